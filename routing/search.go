package routing

import (
	"cmp"
	"context"
	"slices"

	"farhop/routing/delivery"
)

// found is a finished chain as the search sees it.
type found struct {
	key
	scene   *scene
	hops    []int // indexes into scene.hops
	arrival *delivery.Result
	owing   bool // the airtime of the reply is not in the key yet
}

// settle adds the airtime of the reply, if it is still owing.
func (f *found) settle() {
	if f.owing {
		f.owing = false
		f.air = perDelivery(f.arrival.Airtime()+f.scene.reply(f.arrival, f.hops).Airtime(), f.arrival.Chance())
	}
}

// goal is something a search looks for among all chains. A branch is given up
// when every goal calls it hopeless.
type goal interface {
	// offer shows the goal a finished chain.
	offer(f *found)
	// hopeless reports whether nothing that the prospect can become matters.
	hopeless(p *prospect) bool
}

// options are what else decides how a finished chain is evaluated.
type options struct {
	blind   int  // sendings over a last hop without answer, 0 = not allowed
	confirm bool // the reply counts as airtime
	settled bool // and is worked out for every chain
}

// search goes through the chains from one station to another, most promising
// first, and leaves out only what a bound proves hopeless.
type search struct {
	scene  *scene
	bounds *bounds
	from   int
	to     int
	levels int    // most hops
	barred []bool // stations not to be passed; the stations of the branch itself are among them
	avoid  int    // a hop not to be used, −1 = none
	options
	goals  []goal
	effort int           // extensions left before the search gives up
	tried  int           // extensions so far
	begin  int           // the first slot the search starts from
	least  float64       // chance below which a chain does not count
	free   [][][]float64 // see ahead

	stations, channels, hops []int // the branch
}

// run searches from a prefix at the origin. It reports whether the search was
// complete.
func (s *search) run(ctx context.Context, start *stem) (complete bool, err error) {
	s.ahead()
	s.stations = append(s.stations[:0], s.from)
	s.begin = max(start.prefix.Earliest(), 0)
	s.least = leastChance * start.prefix.Chance()
	if err := s.visit(ctx, start); err != nil {
		return false, err
	}
	return s.effort > 0, nil
}

// root is a stem for chains of which airtime is asked only where that decides.
func (o options) root(p *delivery.Prefix) *stem {
	if !o.settled {
		p = p.Within()
	}
	return &stem{prefix: p}
}

// ahead bounds, by hops left and station and node, the chance from there to the
// destination if time were no matter.
func (s *search) ahead() [][][]float64 {
	if s.free == nil {
		s.barred[s.from] = true
		s.free = s.bounds.unhurried(s.barred)
	}
	return s.free
}

// linked reports whether hops lead to the destination at all.
func (s *search) linked() bool {
	dist := make([]int, len(s.barred))
	dist[s.from] = 1
	for queue := []int{s.from}; len(queue) > 0; queue = queue[1:] {
		v := queue[0]
		for _, i := range s.scene.out[v] {
			to := s.scene.hops[i].to
			switch {
			case i == s.avoid || s.barred[to] || dist[to] > 0:
			case to == s.to:
				return true
			case dist[v] < s.levels:
				dist[to] = dist[v] + 1
				queue = append(queue, to)
			}
		}
	}
	return false
}

// visit goes on from the end of the branch.
func (s *search) visit(ctx context.Context, at *stem) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	desk := s.bounds.desk()
	defer s.bounds.leave(desk)
	for _, next := range s.moves(at, desk) {
		if s.effort <= 0 {
			return nil
		}
		if s.hopeless(next) {
			continue
		}
		s.effort--
		s.tried++
		s.bounds.spent++
		s.bounds.sharpen(s)
		if err := s.take(ctx, at, next); err != nil {
			return err
		}
	}
	return nil
}

// take follows one hop and what comes after it.
func (s *search) take(ctx context.Context, at *stem, next *prospect) error {
	h := &s.scene.hops[next.hop]
	s.push(next.hop)
	defer s.pop()
	if h.to == s.to {
		s.finish(at.prefix)
		return nil
	}
	return s.visit(ctx, at.extend(s.scene, next.hop))
}

func (s *search) push(hop int) {
	h := &s.scene.hops[hop]
	s.stations, s.channels, s.hops = append(s.stations, h.to), append(s.channels, h.channel), append(s.hops, hop)
	s.barred[h.to] = true
}

func (s *search) pop() {
	n := len(s.hops) - 1
	s.barred[s.stations[n+1]] = false
	s.stations, s.channels, s.hops = s.stations[:n+1], s.channels[:n], s.hops[:n]
}

// finish shows the branch, now a whole chain, to the goals.
func (s *search) finish(p *delivery.Prefix) {
	f := s.scene.finish(p, slices.Clone(s.hops), s.options)
	if f.arrival.Chance() < s.least {
		return
	}
	f.stations, f.channels = slices.Clone(s.stations), slices.Clone(s.channels)
	for _, g := range s.goals {
		g.offer(f)
	}
}

// finish evaluates the last of a chain's hops.
func (s *scene) finish(p *delivery.Prefix, hops []int, o options) *found {
	h := &s.hops[hops[len(hops)-1]]
	var a *delivery.Result
	blind := o.blind > 0 && h.unheard()
	if blind {
		a = s.eval.Blind(p, h.leg, o.blind)
	} else {
		a = s.eval.Finish(p, h.leg)
	}
	half := a.Quantile(0.5)
	if half < 0 {
		half = never
	}
	f := &found{scene: s, hops: hops, arrival: a, owing: o.confirm && !blind}
	f.key = key{chance: tenths(a.Chance()), time: half, air: perDelivery(a.Airtime(), a.Chance()), hops: len(hops)}
	if o.settled {
		f.settle()
	}
	return f
}

// evaluate works out one chain from a stem at its origin.
func (s *scene) evaluate(at *stem, hops []int, o options) *found {
	for _, i := range hops[:len(hops)-1] {
		at = at.extend(s, i)
	}
	f := s.finish(at.prefix, hops, o)
	f.stations = []int{s.hops[hops[0]].from}
	for _, i := range hops {
		f.stations, f.channels = append(f.stations, s.hops[i].to), append(f.channels, s.hops[i].channel)
	}
	return f
}

func (s *search) hopeless(p *prospect) bool {
	p.renew()
	if p.promise < s.least*(1-1e-6) || p.promise == 0 {
		return true
	}
	for _, g := range s.goals {
		if !g.hopeless(p) {
			return false
		}
	}
	return true
}

// desk is room for what one place in a search looks at. Its zero value is ready.
type desk struct {
	shared branch
	list   []prospect
	moves  []*prospect
	per    []float64
}

// desk is a desk that nobody sits at.
func (b *bounds) desk() *desk {
	n := len(b.desks) - 1
	if n < 0 {
		return &desk{}
	}
	d := b.desks[n]
	b.desks = b.desks[:n]
	return d
}

// leave gives a desk back.
func (b *bounds) leave(d *desk) { b.desks = append(b.desks, d) }

// moves lists the hops that may come next, the most promising first, on a desk.
func (s *search) moves(at *stem, d *desk) []*prospect {
	s.bounds.suit(s)
	v := s.stations[len(s.stations)-1]
	left := s.levels - len(s.hops)
	d.shared = branch{search: s, stem: at, left: left}
	out := s.scene.out[v]
	list, moves := slices.Grow(d.list[:0], len(out)), d.moves[:0]
	d.per = slices.Grow(d.per[:0], 2*len(out)*len(at.share()))
	room := d.per[:cap(d.per)]
	for _, i := range out {
		h := &s.scene.hops[i]
		if s.barred[h.to] || i == s.avoid || h.to != s.to && s.bounds.away(h.to) >= left {
			continue
		}
		list = append(list, prospect{branch: &d.shared, hop: i})
		next := &list[len(list)-1]
		room = next.weigh(room)
		moves = append(moves, next)
	}
	d.list, d.moves = list, moves
	slices.SortStableFunc(moves, func(a, b *prospect) int { return cmp.Compare(a.rough, b.rough) })
	return moves
}
