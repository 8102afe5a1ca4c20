package app

import (
	"context"
	"fmt"
	"os"
	"slices"
	"strings"
	"time"

	"farhop/cmd/farhop/internal/config"
	"farhop/cmd/farhop/internal/view"
	"farhop/mesh"
	"farhop/routing/timetable"
)

// Timetable plans the messages of the plan, or of a list of their own, as slots.
func (s *Session) Timetable(ctx context.Context) (*view.Timetable, error) {
	t, messages, err := s.timetableBy(ctx, timetable.Options{Compare: true})
	if err != nil {
		return nil, err
	}
	v, err := s.timetableView(t, messages)
	if err != nil {
		return nil, err
	}
	if c := t.Single; c != nil {
		v.OneAtATime = &view.OneAtATime{Fit: c.Fit, Last: moment(c.Last), SideLast: lastEnd(t), Slots: t.Reserved, SideSlots: t.Used, Saved: t.Reserved - t.Used}
	}
	if v.ReservePassed, err = s.reservePassed(t, messages); err != nil {
		return nil, err
	}
	s.warnOfBatteries(&v.Head, v.ReservePassed)
	if s.req.SpareBatteries {
		v.Warnings = append(v.Warnings, s.sparedIn(t))
	}
	if err := s.leftOutOf(v, messages); err != nil {
		return nil, err
	}
	v.Next = []string{s.try("timetable --station STATION" + s.trafficFlag()), s.try("route FROM TO")}
	return v, nil
}

// leftOutOf names the messages that aren't planned since all that can be done with them is.
func (s *Session) leftOutOf(v *view.Timetable, planned []mesh.Message) error {
	all, err := s.traffic()
	for i := range all {
		if !slices.ContainsFunc(planned, func(m mesh.Message) bool { return m.ID == all[i].ID }) {
			v.LeftOut = append(v.LeftOut, all[i].ID)
		}
	}
	return err
}

// timetableView words a timetable.
func (s *Session) timetableView(t *timetable.Timetable, messages []mesh.Message) (*view.Timetable, error) {
	v := &view.Timetable{
		Head: s.head(), Exercise: s.req.Exercise, Start: time.Unix(t.First, 0).UTC(),
		End: s.at.Add(s.req.Horizon), SlotSeconds: s.net.Slots.Length.Seconds(), Margin: t.Margin,
		CatchUp: t.CatchUp.Minutes(), Occupancy: t.Occupancy, Transmissions: []view.Transmission{},
		Messages: []view.PlannedMessage{}, Licensed: map[string]string{}, Overrun: overrun(t.CatchUp), LeftOut: []string{},
	}
	if s.req.Station != "" {
		i, err := s.station(s.req.Station)
		if err != nil {
			return nil, err
		}
		v.Only = s.net.Stations[i].Call
	}
	for i := range t.Reservations {
		v.Transmissions = append(v.Transmissions, s.transmission(&t.Reservations[i], messages))
	}
	for i := range messages {
		v.Messages = append(v.Messages, s.planned(&t.Messages[i], &messages[i]))
	}
	for i := range s.net.Stations {
		st := &s.net.Stations[i]
		share := &t.Shares[i]
		v.Stations = append(v.Stations, view.TimetableStation{
			Call: st.Call, Duty: t.Duty[i], Limit: share.Limit, Busiest: share.Busiest, BusiestAt: time.Unix(share.BusiestAt, 0).UTC(),
			Quiet: st.Quiet.Union(s.net.Limits.Quiet).Strings(),
		})
		v.Licensed[st.Call] = st.Licensed
	}
	return v, nil
}

// timetable plans the messages.
func (s *Session) timetable(ctx context.Context) (*timetable.Timetable, []mesh.Message, error) {
	return s.timetableBy(ctx, timetable.Options{})
}

// timetableBy plans the messages, with or without advice and comparison. Where batteries are to be spared, stations that would reach their reserve
// are kept from relaying as far as that can be, a few times over.
func (s *Session) timetableBy(ctx context.Context, extras timetable.Options) (*timetable.Timetable, []mesh.Message, error) {
	messages, err := s.traffic()
	if err != nil {
		return nil, nil, err
	}
	if messages, err = s.done(messages); err != nil {
		return nil, nil, err
	}
	o, err := s.timetableOptions()
	if err != nil {
		return nil, nil, err
	}
	o.Compare, o.NoAdvice = extras.Compare, extras.NoAdvice
	t, err := timetable.Make(ctx, s.net, s.links, messages, o)
	for round := 0; err == nil && s.req.SpareBatteries && round < 4; round++ {
		flat, err := s.flat(t, o.Spare)
		if err != nil {
			return nil, nil, err
		}
		if len(flat) == 0 {
			break
		}
		o.Spare = append(o.Spare, flat...)
		if t, err = timetable.Make(ctx, s.net, s.links, messages, o); err != nil {
			return nil, nil, err
		}
	}
	return t, messages, err
}

// timetableOptions reads what was asked of a timetable.
func (s *Session) timetableOptions() (o timetable.Options, err error) {
	r := &s.req
	switch {
	case !(r.Margin > 0 && r.Margin < 1):
		return o, usagef("--margin %g: a chance over 0 and under 1, such as 0.8", r.Margin)
	case r.CatchUp < 0 || r.CatchUp >= time.Hour:
		return o, usagef("--catch-up %s: from 0s to under 1h", r.CatchUp)
	case r.Horizon < s.net.Slots.Length || r.Horizon > 14*24*time.Hour:
		return o, usagef("--horizon %s: from one slot to 336h", r.Horizon)
	case r.Relays < 0 || r.Relays > 8:
		return o, usagef("--relays %d: allow 0 to 8", r.Relays)
	}
	o = timetable.Options{
		Start: s.at.Unix(), Horizon: r.Horizon, Margin: r.Margin, CatchUp: r.CatchUp, Relays: r.Relays,
		Unknown: r.Unknown, Inferred: r.Inferred, Late: r.Late,
	}
	if o.CatchUp == 0 {
		o.CatchUp = timetable.NoCatchUp
	}
	if o.Relays == 0 {
		o.Relays = timetable.DirectOnly
	}
	return o, nil
}

// traffic is the list of messages to plan.
func (s *Session) traffic() ([]mesh.Message, error) {
	if s.req.Traffic == "" {
		return s.net.Traffic, nil
	}
	list, problems, err := config.LoadTrafficFile(s.req.Traffic, s.net)
	if os.IsNotExist(err) {
		return nil, usagef("no traffic list at %s", s.req.Traffic)
	}
	if err != nil || list != nil {
		return list, err
	}
	var b strings.Builder
	fmt.Fprintf(&b, "the traffic list %s can't be used:", s.req.Traffic)
	for _, p := range problems {
		b.WriteString("\n  " + p.String())
	}
	return nil, fmt.Errorf("%s", b.String())
}

// trafficFlag names the lists of messages again, where there are any beside the
// plan's.
func (s *Session) trafficFlag() string {
	flag := ""
	if s.req.Traffic != "" {
		flag += " --traffic " + quoted(s.req.Traffic)
	}
	if s.req.DoneList != "" {
		flag += " --done " + quoted(s.req.DoneList)
	}
	return flag
}

func (s *Session) transmission(r *timetable.Reservation, messages []mesh.Message) view.Transmission {
	return view.Transmission{
		Message: messages[r.Message].ID, Hop: r.Hop, From: s.net.Stations[r.From].Call, To: s.names(r.To),
		Channel: s.net.Channels[r.Channel].Name, OffsetHz: r.OffsetHz, Start: time.Unix(r.Start, 0).UTC(),
		End: time.Unix(r.End, 0).UTC(), Slots: r.Slots, Frames: r.Frames, Sendings: r.Sendings, Chance: r.Chance,
		Sent: r.Sent, Answered: r.Answered, Identification: s.identification(messages[r.Message].Characters) * max(r.Sendings, 1),
	}
}

// identification is how many frames of a message of so many characters identify the station.
func (s *Session) identification(characters int) int {
	without := s.net.Slots
	without.Identify = 0
	return s.net.Slots.Frames(characters) - without.Frames(characters)
}

func (s *Session) planned(p *timetable.Planned, m *mesh.Message) view.PlannedMessage {
	v := view.PlannedMessage{
		ID: m.ID, From: s.net.Stations[m.From].Call, To: view.EveryMember, Precedence: m.Precedence.String(),
		Characters: m.Characters, Chain: s.names(p.Chain), Arrival: moment(p.Arrival),
		Deadline: time.Unix(p.Deadline, 0).UTC(), Fits: p.Fits, WhyNot: p.WhyNot, Changes: p.Changes,
		Missing: s.names(p.Missing), Has: s.names(m.Has), Untried: p.Untried,
	}
	if m.To == mesh.EveryMember {
		v.Fewest, v.InPart = &p.Fewest, !p.Fits && p.Arrival != 0
	} else {
		v.To = s.net.Stations[m.To].Call
	}
	if !m.Ready.IsZero() {
		ready := m.Ready.UTC()
		v.Ready = &ready
	}
	if p.Arrival != 0 {
		v.Chance = figure(p.Chance)
	}
	if v.Changes == nil {
		v.Changes = []string{}
	}
	return v
}

func lastEnd(t *timetable.Timetable) *time.Time {
	end := int64(0)
	for i := range t.Reservations {
		end = max(end, t.Reservations[i].End)
	}
	return moment(end)
}

// overrun is the rule for a hop that isn't over by the end of its slots.
func overrun(catchUp time.Duration) string {
	if catchUp == 0 {
		return "When a hop isn't over by the end of its slots: stop, and report it."
	}
	return fmt.Sprintf(
		"When a hop isn't over by the end of its slots: stop, and go on in the last %d minutes of the hour, which are kept free for it.",
		int(catchUp.Minutes()+0.999))
}
