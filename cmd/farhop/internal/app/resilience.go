package app

import (
	"context"
	"strings"

	"farhop/cmd/farhop/internal/view"
	"farhop/routing/cut"
)

// allPairsUpTo is how many stations a net may have for all its pairs to be
// looked at unasked.
const allPairsUpTo = 30

// stationPairsUpTo is how many stations a net may have for pairs of stations to
// be looked at: the work grows with the square of its links.
const stationPairsUpTo = 500

// weakPoints analyses the net at the moment.
func (s *Session) weakPoints(ctx context.Context, pairs [][2]int, reach bool) (*cut.Report, error) {
	g, err := cut.FromMesh(s.links.Graph(s.at.Unix()), s.use())
	if err != nil {
		return nil, err
	}
	opt := cut.Defaults()
	opt.Threshold, opt.TwoWay, opt.Seed = s.req.Threshold, s.req.TwoWay, s.req.Seed
	opt.Pairs, opt.Reach = pairs, reach
	opt.StationPairs = reach && len(s.net.Stations) <= stationPairsUpTo
	return cut.Analyse(ctx, g, opt)
}

// pairs reads --pair A,B, or takes all pairs of a small net.
func (s *Session) pairs() ([][2]int, error) {
	if len(s.req.Pairs) == 0 {
		if n := len(s.net.Stations); n <= allPairsUpTo {
			return cut.AllPairs(n), nil
		}
		return nil, nil
	}
	var pairs [][2]int
	for _, p := range s.req.Pairs {
		a, b, ok := strings.Cut(p, ",")
		if !ok {
			return nil, usagef("--pair %q: write two stations with a comma, as in HARBOR,MILL", p)
		}
		i, err := s.station(strings.TrimSpace(a))
		if err != nil {
			return nil, err
		}
		j, err := s.station(strings.TrimSpace(b))
		if err != nil {
			return nil, err
		}
		if i == j {
			return nil, usagef("--pair %q names one station twice", p)
		}
		pairs = append(pairs, [2]int{i, j})
	}
	return pairs, nil
}

// Resilience tells what would break the net.
func (s *Session) Resilience(ctx context.Context) (*view.Resilience, error) {
	if s.req.Threshold <= 0 || s.req.Threshold > 1 {
		return nil, usagef("--threshold %g: a chance over 0 and up to 1", s.req.Threshold)
	}
	pairs, err := s.pairs()
	if err != nil {
		return nil, err
	}
	r, err := s.weakPoints(ctx, pairs, true)
	if err != nil {
		return nil, err
	}
	v := &view.Resilience{
		Head: s.head(), OpenThreshold: r.Threshold, TwoWay: r.TwoWay, Stations: r.Stations,
		OpenLinks: r.OpenLinks, JoinedPairs: r.ConnectedPairs, UnknownLinks: r.UnknownLinks, UnknownUsed: s.req.Unknown,
		Isolated: s.names(r.Isolated), Deaf: s.names(r.Deaf), Unheard: s.names(r.Unheard),
		Unknown: s.names(r.Unknown), OffAir: s.names(s.offAir()),
		Groups: [][]string{}, SingleStations: []view.SingleStation{}, SingleLinks: []view.SingleLink{},
		StationPairs: []view.StationPair{}, Pairs: []view.PairReach{},
	}
	for _, g := range r.Groups {
		v.Groups = append(v.Groups, s.names(g))
	}
	for _, x := range r.SingleStations {
		v.SingleStations = append(v.SingleStations, view.SingleStation{
			Station: s.net.Stations[x.Station].Call, PairsLost: x.PairsLost, CutsOff: s.names(x.CutsOff), Certain: x.Certain,
		})
	}
	for _, x := range r.SingleLinks {
		v.SingleLinks = append(v.SingleLinks, view.SingleLink{
			From: s.net.Stations[x.From].Call, To: s.net.Stations[x.To].Call, PairsLost: x.PairsLost,
		})
	}
	for _, x := range r.StationPairs {
		v.StationPairs = append(v.StationPairs, view.StationPair{
			Stations: [2]string{s.net.Stations[x.A].Call, s.net.Stations[x.B].Call}, PairsLost: x.PairsLost,
		})
	}
	for i := range r.Pairs {
		v.Pairs = append(v.Pairs, s.pairReach(&r.Pairs[i]))
	}
	for _, w := range r.Warnings {
		text := w.String()
		v.Warnings = append(v.Warnings, view.Warning{
			Code: cutCodes[w.Kind], Message: strings.ToUpper(text[:1]) + text[1:] + ".",
		})
	}
	v.Next = []string{s.try("draw"), s.try("links")}
	if s.req.Reinforce == 0 {
		v.Next = append(v.Next, s.try("resilience --reinforce"))
	}
	v.Help = s.help(r)
	return v, s.further(ctx, v)
}

// further adds what was asked for beyond the plain answer.
func (s *Session) further(ctx context.Context, v *view.Resilience) (err error) {
	if s.plain != nil {
		if v.Before, err = s.plain.wholeness(ctx); err != nil {
			return err
		}
	}
	if s.req.Hours {
		if v.Hours, err = s.hours(ctx); err != nil {
			return err
		}
	}
	if s.req.Reinforce != 0 {
		v.Reinforce, err = s.reinforcement(ctx)
	}
	return err
}

// wholeness is how whole the net is at the moment, in short.
func (s *Session) wholeness(ctx context.Context) (*view.Wholeness, error) {
	g, err := cut.FromMesh(s.links.Graph(s.at.Unix()), s.use())
	if err != nil {
		return nil, err
	}
	r, err := cut.Analyse(ctx, g, cut.Options{Threshold: s.req.Threshold, TwoWay: s.req.TwoWay})
	if err != nil {
		return nil, err
	}
	w := &view.Wholeness{OpenLinks: r.OpenLinks, Groups: len(r.Groups), JoinedPairs: r.ConnectedPairs, SingleStations: []string{}}
	if len(r.Groups) > 0 {
		w.LargestGroup = len(r.Groups[0])
	}
	for _, p := range r.SingleStations {
		w.SingleStations = append(w.SingleStations, s.net.Stations[p.Station].Call)
	}
	return w, nil
}

func (s *Session) pairReach(p *cut.Pair) view.PairReach {
	v := view.PairReach{
		From: s.net.Stations[p.From].Call, To: s.net.Stations[p.To].Call, Reach: p.Reach,
		AtLeast: p.Lowest, AtMost: p.Highest, DisjointChains: len(p.Chains), Chains: [][]string{},
	}
	if !p.Exact {
		low, high := p.Low, p.High
		v.ReachLow, v.ReachHigh = &low, &high
	}
	if !p.Direct {
		v.SmallestCut = s.names(p.Cut)
	}
	for _, c := range p.Chains {
		v.Chains = append(v.Chains, s.names(c))
	}
	return v
}

// cutCodes are the names by which scripts know the warnings.
var cutCodes = map[cut.WarningKind]string{
	cut.UnknownLeftOut: "unknown-left-out", cut.UncertainUsed: "uncertain-used", cut.NothingOpen: "nothing-open",
	cut.ReachSampled: "reach-sampled", cut.PairsNotChecked: "pairs-not-checked",
}

// offAir lists the stations that listen to no channel in the slot of the moment.
func (s *Session) offAir() []int { return s.offAirAt(s.at.Unix()) }

func (s *Session) offAirAt(unix int64) []int {
	var off []int
	slot := s.net.Slots.Start(unix)
	for i := range s.net.Stations {
		listens := false
		for ch := range s.net.Channels {
			listens = listens || s.net.Listens(i, ch, slot)
		}
		if !listens {
			off = append(off, i)
		}
	}
	return off
}
