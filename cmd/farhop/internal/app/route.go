package app

import (
	"context"
	"math"
	"strings"
	"time"

	"farhop/cmd/farhop/internal/view"
	"farhop/mesh"
	"farhop/routing"
)

// request turns what was asked into a routing request without its ends.
func (s *Session) request() (routing.Request, error) {
	r := s.req
	order, ok := routing.ParseOrder(r.Order)
	if !ok {
		return routing.Request{}, usagef("--order %q: it is surest, soonest or lightest", r.Order)
	}
	deadline, err := r.deadline(s.at)
	if err != nil {
		return routing.Request{}, err
	}
	characters, err := s.characters()
	if err != nil {
		return routing.Request{}, err
	}
	if r.Chains < 1 || r.Chains > 50 {
		return routing.Request{}, usagef("--chains %d: ask for 1 to 50", r.Chains)
	}
	if r.Relays < 0 || r.Relays > 8 {
		return routing.Request{}, usagef("--relays %d: allow 0 to 8", r.Relays)
	}
	if r.Blind < 0 || r.Blind > 100 {
		return routing.Request{}, usagef("--blind %d: ask for 1 to 100 sendings, or 0 for none", r.Blind)
	}
	q := routing.Request{
		Frames: s.net.Slots.Frames(characters), Start: s.at.Unix(), Deadline: deadline, Order: order,
		Chains: r.Chains, Relays: r.Relays, Unknown: r.Unknown, Inferred: r.Inferred,
		Confirm: r.Confirm, Both: r.Both, Blind: r.Blind,
	}
	if q.Relays == 0 {
		q.Relays = -1 // none; zero means the default there
	}
	switch r.Depart {
	case "", "now":
	case "best":
		q.Depart = routing.DepartBest
	default:
		return q, usagef("--depart %q: it is now or best", r.Depart)
	}
	return q, nil
}

// Route finds the best chains to each destination asked for.
func (s *Session) Route(ctx context.Context) (view.Routes, error) {
	q, err := s.request()
	if err != nil {
		return nil, err
	}
	if q.From, err = s.station(s.req.From); err != nil {
		return nil, err
	}
	if s.req.ToRole != "" {
		return s.routeRole(ctx, q)
	}
	var to []int
	for name := range strings.SplitSeq(s.req.To, ",") {
		if strings.TrimSpace(name) == "" {
			return nil, usagef("%q: a destination is missing beside a comma", s.req.To)
		}
		i, err := s.station(strings.TrimSpace(name))
		if err != nil {
			return nil, err
		}
		if i == q.From {
			return nil, usagef("%s can't send to itself", s.net.Stations[i].Call)
		}
		to = append(to, i)
	}
	planner := routing.New(s.net, s.links)
	answers, err := planner.RouteAll(ctx, q, to)
	if err != nil {
		return nil, err
	}
	var out view.Routes
	for i, a := range answers {
		p, a, v, err := s.kept(ctx, planner, a, q.From, to[i])
		if err != nil {
			return nil, err
		}
		if err := s.instruct(ctx, p, a, v); err != nil {
			return nil, err
		}
		if v.Before, err = s.unassumed(ctx, q, to[i]); err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	return out, nil
}

// unassumed is the best chain without the assumptions, to a station or, where that is
// −1, to the best with the role asked for; nil when nothing was assumed.
func (s *Session) unassumed(ctx context.Context, q routing.Request, to int) (*view.Unassumed, error) {
	if s.plain == nil {
		return nil, nil
	}
	var err error
	if q.From, err = s.plain.station(s.net.Stations[q.From].Call); err != nil {
		return nil, err
	}
	planner := routing.New(s.plain.net, s.plain.links)
	q.Chains = 1
	var answers []*routing.Answer
	if to < 0 {
		r, err := planner.RouteRole(ctx, q, s.req.ToRole)
		if err != nil {
			return nil, err
		}
		answers = r.Answers
	} else {
		if q.To, err = s.plain.station(s.net.Stations[to].Call); err != nil {
			return nil, err
		}
		a, err := planner.Route(ctx, q)
		if err != nil {
			return nil, err
		}
		answers = []*routing.Answer{a}
	}
	v := &view.Unassumed{Stations: []string{}}
	if len(answers) > 0 && len(answers[0].Chains) > 0 {
		c := &answers[0].Chains[0]
		v.Stations, v.DeliveredByDeadline = s.plain.names(c.Stations), c.Delivered
	}
	return v, nil
}

// routeRole finds the best of the stations with a role, and the backup through a
// different one.
func (s *Session) routeRole(ctx context.Context, q routing.Request) (view.Routes, error) {
	planner := routing.New(s.net, s.links)
	r, err := planner.RouteRole(ctx, q, s.req.ToRole)
	if err != nil {
		return nil, err
	}
	if len(r.Stations) == 0 {
		return nil, usagef("--to-role %q: no other station of the plan has that role", s.req.ToRole)
	}
	before, err := s.unassumed(ctx, q, -1)
	if err != nil {
		return nil, err
	}
	if len(r.Answers) == 0 {
		v := s.route(&routing.Answer{Request: q}, q.From, r.Stations[0])
		v.To, v.Role = "any "+s.req.ToRole, s.req.ToRole
		if q.Deadline < longestAhead {
			if err := s.soonestOf(ctx, planner, q, r.Stations, v); err != nil {
				return nil, err
			}
		}
		v.Before = before
		v.Missing, err = s.missing(ctx, planner, q, r.Stations, v)
		return view.Routes{v}, err
	}
	best := r.Answers[0]
	planner, best, v, err := s.kept(ctx, planner, best, q.From, best.Request.To)
	if err != nil {
		return nil, err
	}
	v.Role, v.Before = s.req.ToRole, before
	for _, a := range r.Answers[1:] {
		v.Others = append(v.Others, view.RoleStation{
			Station: s.net.Stations[a.Request.To].Call, DeliveredByDeadline: a.Chains[0].Delivered,
		})
	}
	if b := r.Backup; b != nil {
		v.RoleBackup = &view.RoleBackup{
			Chain: s.chain(&b.Chain), DeliveredByDeadline: b.Delivered, SwitchAt: moment(b.SwitchAt),
		}
	}
	return view.Routes{v}, s.instruct(ctx, planner, best, v)
}

// worthHolding is the gain in chance from which an operator is told to wait
// unasked.
const worthHolding = 0.02

// route words one answer.
func (s *Session) route(a *routing.Answer, from, to int) *view.Route {
	m, _ := s.message() // asked for before
	v := &view.Route{
		Head: s.head(), From: s.net.Stations[from].Call, To: s.net.Stations[to].Call,
		Start: s.at, Deadline: s.at.Add(a.Request.Deadline), Characters: m.characters, Radiogram: m.form,
		Frames: a.Request.Frames, SlotSeconds: s.net.Slots.Length.Seconds(), FirstSlot: time.Unix(a.First, 0).UTC(),
		Order: a.Request.Order.String(), Proven: a.Proven, Best: a.Best, Unbeaten: a.Unbeaten,
		Chains: []view.Chain{}, Shared: s.names(a.Shared), Confirm: a.Request.Confirm,
	}
	if v.Unbeaten == nil {
		v.Unbeaten = []int{}
	}
	for i := range a.Chains {
		v.Chains = append(v.Chains, s.chain(&a.Chains[i]))
	}
	if b := a.Backup; b != nil {
		v.Backup = &view.Backup{Chains: b.Chains, DeliveredByDeadline: b.Delivered, Both: b.Both, SwitchAt: moment(b.SwitchAt)}
	}
	v.AnyRelay = s.anyRelay(a)
	if h := a.Hold; h != nil && (a.Request.Depart == routing.DepartBest || h.Then >= h.Now+worthHolding) {
		v.Hold = &view.Hold{
			Until: time.Unix(h.Until, 0).UTC(), DeliveredNow: h.Now, DeliveredThen: h.Then,
			P50Now: figure(h.NowP50), P50Then: figure(h.ThenP50),
		}
	}
	v.Warnings = append(append(v.Warnings, m.warnings...), s.warnings(a.Warnings)...)
	if len(v.Chains) == 0 {
		v.Next = []string{s.try("resilience"), s.try("links")}
		return v
	}
	v.Next = []string{s.try("table " + v.From), s.try("resilience")}
	s.blind(a, v)
	return v
}

// blind says where --blind would help, and where it was asked for in vain.
func (s *Session) blind(a *routing.Answer, v *view.Route) {
	last := a.Chains[0].Hops[len(a.Chains[0].Hops)-1]
	switch {
	case last.Blind:
	case s.req.Blind > 0:
		v.Warnings = append(v.Warnings, view.Warning{
			Code: "blind", Message: v.To + " can answer on the first chain, so --blind changes nothing there.", Stations: []string{v.To},
		})
	case !last.HasReverse || !s.usable(&last.Reverse):
		v.Next = append([]string{s.again(v.From, v.To, a.Request.Deadline, v.Characters) + " --blind 3"}, v.Next...)
	}
}

func (s *Session) chain(c *routing.Chain) view.Chain {
	v := view.Chain{
		Stations: s.names(c.Stations), DeliveredByDeadline: c.Delivered, MeanMinutes: figure(c.MeanMinutes),
		P50Minutes: figure(c.P50Minutes), P80Minutes: figure(c.P80Minutes), P90Minutes: figure(c.P90Minutes),
		P95Minutes: figure(c.P95Minutes), ConfirmedByDeadline: c.Confirmed, AirtimeSeconds: c.AirtimeSeconds,
		EnergyWh: figure(c.EnergyWh), StationAirtime: c.StationSeconds, Weakest: c.Weakest, Arrival: c.Arrival,
	}
	for _, wh := range c.StationWh {
		v.StationEnergyWh = append(v.StationEnergyWh, figure(wh))
	}
	for i := range c.Hops {
		v.Hops = append(v.Hops, s.hop(&c.Hops[i]))
	}
	return v
}

func (s *Session) hop(h *routing.Hop) view.Hop {
	v := view.Hop{
		From: s.net.Stations[h.From].Call, To: s.net.Stations[h.To].Call,
		Channel: s.net.Channels[h.Channel].Name, Decode: h.Edge.Decode,
		AgeMinutes: s.age(&h.Edge), Freshness: h.Edge.Freshness, Inferred: h.Edge.Inferred,
		Known: h.Edge.Known, ReverseKnown: h.HasReverse && h.Reverse.Known, NoReverse: !h.HasReverse,
		Reports: h.Edge.Reports, Misses: h.Edge.Misses, GiveUpAt: moment(h.GiveUp),
	}
	if h.HasReverse && s.usable(&h.Reverse) {
		v.ReverseDecode = h.Reverse.Decode
	}
	if h.Blind {
		v.BlindSendings = s.req.Blind
	}
	v.SNRDB, v.SNRSDDB = snr(&h.Edge)
	if t := h.Then; t != nil {
		v.Then = s.names(t.Stations)
		v.ThenChance = figure(t.Delivered)
	}
	var why []string
	for _, r := range h.Reasons {
		why = append(why, s.reason(r, h))
	}
	v.Why = strings.Join(why, ", ")
	return v
}

// usable reports whether the request lets a direction count.
func (s *Session) usable(e *mesh.Edge) bool {
	return (e.Known || s.req.Unknown) && (!e.Inferred || s.req.Inferred)
}

// reason words what is doubtful about a hop.
func (s *Session) reason(r routing.Reason, h *routing.Hop) string {
	switch r {
	case routing.Old:
		return "the newest evidence is " + view.Age(time.Duration(s.at.Unix()-h.Edge.Newest)*time.Second) + " old"
	case routing.Weak:
		return "a frame decodes with only " + view.Percent(h.Edge.Decode)
	case routing.OneReport:
		return "it rests on one report"
	case routing.UnknownHour:
		return "unknown at this hour"
	case routing.Inferred:
		return "inferred from the opposite direction"
	case routing.AnswerWeak:
		if !h.HasReverse {
			return "it has no link to answer on"
		}
		if !s.usable(&h.Reverse) {
			return "nothing is known of its answers"
		}
		return "its answers decode with only " + view.Percent(h.Reverse.Decode)
	}
	return r.String()
}

// warnings words the warnings of the planner.
func (s *Session) warnings(ws []routing.Warning) []view.Warning {
	var out []view.Warning
	for _, w := range ws {
		out = append(out, view.Warning{Code: w.Code.String(), Message: w.Message, Stations: s.names(w.Stations)})
	}
	return out
}

// figure points to a figure, or to nothing where there is none.
func figure(f float64) *float64 {
	if math.IsNaN(f) || math.IsInf(f, 0) {
		return nil
	}
	return &f
}

// moment points to a time, or to nothing for zero.
func moment(unix int64) *time.Time {
	if unix == 0 {
		return nil
	}
	t := time.Unix(unix, 0).UTC()
	return &t
}
