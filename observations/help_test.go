package observations

import (
	"bytes"
	"context"
	"fmt"
	"strings"
	"testing"
	"time"
)

// blockOf makes the whole of a text one block.
func blockOf(text string) *block {
	data := append(make([]byte, 0, len(text)+slack), text...)
	copy(data[len(data):cap(data)], bytes.Repeat([]byte{'\n'}, slack))
	return &block{data: data, line: 1, first: true}
}

// readText reads a text from standard input up to its newest report.
func readText(t testing.TB, text string) *Log {
	t.Helper()
	return readWith(t, Options{Newest: true}, text)
}

func readWith(t testing.TB, opt Options, texts ...string) *Log {
	t.Helper()
	var inputs []Input
	for i, text := range texts {
		inputs = append(inputs, Input{Text: text, Name: fmt.Sprintf("text %d", i+1)})
	}
	l, err := Read(context.Background(), inputs, opt)
	if err != nil {
		t.Fatal(err)
	}
	checkLog(t, l)
	return l
}

// checkLog holds what is true of every log.
func checkLog(t testing.TB, l *Log) {
	t.Helper()
	c := l.Counts
	if c.Read != c.Rejected+c.Earlier+c.Later+len(l.Reports) || c.Duplicate+c.Outside+c.Used != 0 {
		t.Errorf("counts do not add up: %+v and %d reports", c, len(l.Reports))
	}
	if c.Rejected > 0 && l.ProblemCount == 0 || len(l.Problems) > l.ProblemCount {
		t.Errorf("%d rejected, %d of %d problems", c.Rejected, len(l.Problems), l.ProblemCount)
	}
	for i, r := range l.Reports {
		if int(r.Sender) >= len(l.Sites) || int(r.Receiver) >= len(l.Sites) || int(r.Channel) > len(l.Channels) ||
			int(r.Source) >= len(l.Sources) || r.Line == 0 || l.Call(r.Sender) == l.Call(r.Receiver) ||
			!(r.SNR >= minSNR && r.SNR <= maxSNR) || !(r.Power >= 0 && r.Power <= maxPower) ||
			r.Time < firstTime || r.Time >= endOfTime || r.Time+int64(r.Delay) > l.Moment {
			t.Errorf("impossible report %+v", r)
		}
		if i > 0 && compareReports(l.Reports[i-1], r) > 0 {
			t.Errorf("report %d is out of order", i)
		}
	}
	for _, p := range l.Problems {
		if p.Message == "" || p.Mend == "" || p.Source == "" || p.Line < 0 || p.Column < 0 ||
			len([]rune(p.Value)) > 10*(shownRunes+1) || strings.ContainsAny(p.Value, "\n\r\x00\x1b") {
			t.Errorf("poor problem %+v", p)
		}
	}
}

// told writes reports out one a line, without their origin.
func told(l *Log) string {
	var b strings.Builder
	for _, r := range l.Reports {
		fmt.Fprintf(&b, "%s %s→%s %g dB", time.Unix(r.Time, 0).UTC().Format(time.RFC3339), siteText(l.Sites[r.Sender]), siteText(l.Sites[r.Receiver]), r.SNR)
		if r.Frequency != 0 {
			fmt.Fprintf(&b, " %d Hz", r.Frequency)
		}
		if r.Power != 0 {
			fmt.Fprintf(&b, " %g W", r.Power)
		}
		if r.Delay != 0 {
			fmt.Fprintf(&b, " +%d s", r.Delay)
		}
		if r.Channel != 0 {
			fmt.Fprintf(&b, " on %s", l.Channels[r.Channel-1])
		}
		b.WriteByte('\n')
	}
	for _, k := range l.Claims {
		fmt.Fprintf(&b, "%s all %s", time.Unix(k.Time, 0).UTC().Format(time.RFC3339), siteText(l.Sites[k.Receiver]))
		if k.Channel != 0 {
			fmt.Fprintf(&b, " on %s", l.Channels[k.Channel-1])
		}
		b.WriteByte('\n')
	}
	return b.String()
}

func siteText(s Site) string {
	if s.Locator == "" {
		return s.Call
	}
	return s.Call + "@" + s.Locator
}

// problems writes problems out one a line.
func problems(l *Log) string {
	var b strings.Builder
	for _, p := range l.Problems {
		fmt.Fprintf(&b, "%d:%d %s %q %s\n", p.Line, p.Column, p.Field, p.Value, p.Message)
	}
	return b.String()
}

func lines(s ...string) string { return strings.Join(s, "\n") + "\n" }

func diff(t testing.TB, what, got, want string) {
	t.Helper()
	if got != want {
		t.Errorf("%s:\n%swant:\n%s", what, got, want)
	}
}
