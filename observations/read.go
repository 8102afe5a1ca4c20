package observations

import (
	"context"
	"fmt"
	"io"
	"runtime"
	"sync"
	"sync/atomic"
)

// maxWorkers is how many blocks are parsed at a time, processors permitting.
const maxWorkers = 8

// Read reads all inputs and returns what was heard, sorted, with an account of
// every line. Files may come in any order and reports in any order within
// them: the same lines make the same log, apart from where they came from.
//
// The form is told by what is in a source, not by its name: rows below a
// header line (RFC 4180), JSON objects one a line, typed lists; one source may
// hold several of them. Compressed sources are unpacked. In a folder, and in
// folders below it, the files read are .csv, .jsonl, .ndjson, .json, .txt and
// .heard, also with .gz or .zst.
//
// A line that can't be used becomes a Problem and reading goes on. An error is
// returned only for a file that can't be read, for Rejects that can't be
// written, and when ctx ends. Memory is that of the log and some megabytes; the
// time is linear in the bytes read, and n·log n in reports that come unsorted.
// Should ctx end while standard input has nothing to give, a goroutine stays
// behind until it has.
func Read(ctx context.Context, inputs []Input, opt Options) (*Log, error) {
	return read(ctx, inputs, opt, usualLimits, min(runtime.GOMAXPROCS(0), maxWorkers))
}

func read(ctx context.Context, inputs []Input, opt Options, lim limits, workers int) (*Log, error) {
	sources, problems, err := findSources(inputs, opt.Stdin)
	if err != nil {
		return nil, err
	}
	c := newCollector(sources, opt, lim, workers)
	for _, p := range problems {
		c.addProblem(p)
	}
	l := assembly{sources: sources, lim: lim, spell: c.spell, maxProblems: c.maxProblems}
	if err := l.run(ctx, workers, c); err != nil {
		return nil, err
	}
	return c.finish()
}

// job is a block on its way.
type job struct {
	block  block
	source int
	empty  bool    // the source has nothing in it
	layout *layout // what the block was parsed with
	parser int
	out    batch
	err    error
	done   chan struct{}
}

// assembly is an assembly line: one goroutine cuts sources into blocks, workers
// parse them, and the caller collects them in order.
type assembly struct {
	sources     []*source
	lim         limits
	spell       spell
	maxProblems int
	read        atomic.Int64

	free, work, order chan *job
}

func (l *assembly) run(ctx context.Context, workers int, c *collector) error {
	inner, cancel := context.WithCancel(ctx)
	defer cancel()
	jobs := workers + 2
	l.free, l.work, l.order = make(chan *job, jobs), make(chan *job, jobs), make(chan *job, jobs)
	for range jobs {
		l.free <- &job{done: make(chan struct{}, 1)}
	}
	var group sync.WaitGroup
	group.Go(func() { l.cut(inner) })
	for i := range workers {
		group.Go(func() { l.parse(i) })
	}
	err := l.collect(ctx, c)
	if err == nil {
		group.Wait()
	}
	return err
}

// parse is a worker.
func (l *assembly) parse(number int) {
	p := newParser(l.lim, l.spell, l.maxProblems)
	for j := range l.work {
		j.parser = number
		p.parse(&j.block, uint16(j.source), j.layout, &j.out)
		j.done <- struct{}{}
	}
}

// collect hands jobs to the collector in the order of their blocks.
func (l *assembly) collect(ctx context.Context, c *collector) error {
	for {
		var j *job
		select {
		case <-ctx.Done():
			return ctx.Err()
		case j = <-l.order:
		}
		if j == nil {
			return ctx.Err()
		}
		<-j.done
		if j.err != nil {
			return j.err
		}
		if err := c.collect(j); err != nil {
			return err
		}
		if c.opt.Progress != nil {
			c.opt.Progress(l.read.Load())
		}
		l.free <- j
	}
}

// cut reads the sources one after another.
func (l *assembly) cut(ctx context.Context) {
	defer close(l.order)
	defer close(l.work)
	for i, s := range l.sources {
		if err := l.cutSource(ctx, i, s); err != nil {
			if j := l.take(ctx); j != nil {
				j.err = fmt.Errorf("%s: %w", s.name, err)
				j.done <- struct{}{}
				l.order <- j
			}
			return
		}
	}
}

// take waits for a free job; nil means that nobody wants more.
func (l *assembly) take(ctx context.Context) *job {
	select {
	case <-ctx.Done():
		return nil
	case j := <-l.free:
		j.err, j.empty = nil, false
		return j
	}
}

func (l *assembly) cutSource(ctx context.Context, number int, s *source) error {
	file, err := s.open()
	if err != nil {
		return err
	}
	defer file.Close()
	stream, release, err := unpack(file, &l.read)
	if err != nil {
		return err
	}
	defer release()
	split := newSplitter(stream, l.lim)
	var guess *layout
	for first := true; ; first = false {
		j := l.take(ctx)
		if j == nil {
			return ctx.Err()
		}
		j.source, j.layout = number, guess
		switch err := split.next(&j.block); {
		case err == io.EOF && first:
			j.empty = true
		case err == io.EOF:
			l.free <- j
			return nil
		case err != nil:
			l.free <- j
			return err
		}
		if now := s.current.Load(); now != nil && !first {
			j.layout = now
		}
		if first {
			guess = firstLayout(l.lim, &j.block)
		}
		l.order <- j
		l.work <- j
	}
}

// firstLayout foresees with what layout the second block of a source will have
// to be parsed. Being wrong costs time only.
func firstLayout(lim limits, b *block) *layout {
	if b.long || b.torn != nil {
		return freeLayout
	}
	p := newParser(lim, allTimes(postponeUndated), 0)
	var out batch
	for pos := 0; pos < len(b.data); {
		end, _ := recordEnd(b.data, pos, lim.record, true)
		p.parse(&block{data: b.data[pos:end], first: b.first && pos == 0}, 0, nil, &out)
		if out.end != nil {
			return out.end
		}
		pos = end
	}
	return nil
}
