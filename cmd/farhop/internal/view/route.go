package view

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Route is the best chains for one message.
type Route struct {
	Head
	From        string    `json:"from"`
	To          string    `json:"to"`
	Start       time.Time `json:"start"`
	Deadline    time.Time `json:"deadline"`
	Characters  int       `json:"characters"`
	Frames      int       `json:"frames"`
	SlotSeconds float64   `json:"slot_seconds"`
	FirstSlot   time.Time `json:"-"` // start of slot 0 of Chain.Arrival
	Order       string    `json:"order"`
	Proven      bool      `json:"proven"` // no better chain exists within the relay limit
	Chains      []Chain   `json:"chains"`
	Best        int       `json:"best"` // how many of Chains are the best in the asked order
	Unbeaten    []int     `json:"unbeaten"`
	Backup      *Backup   `json:"backup"`
	Shared      []string  `json:"shared_relays,omitempty"` // relays that every chain passes
	AnyRelay    *AnyRelay `json:"any_relay"`
	Hold        *Hold     `json:"hold,omitempty"`
	Confirm     bool      `json:"confirm,omitempty"` // confirmed is when a reply is back at From
	// Role is the role asked for in place of a station, To the best station with
	// it, Others the rest that can be reached, and RoleBackup the second chain,
	// to one of those.
	Role       string        `json:"role,omitempty"`
	Others     []RoleStation `json:"others,omitempty"`
	RoleBackup *RoleBackup   `json:"role_backup,omitempty"`
	// Missing says what evidence is missing when there is no chain.
	Missing string `json:"missing,omitempty"`
	// Before is the best chain without what was assumed; nil when nothing was.
	Before *Unassumed `json:"before,omitempty"`
	// WouldMake is the deadline that would be made; nil when this one is, or when
	// none within SearchedHours is.
	WouldMake     *WouldMake   `json:"would_make"`
	SearchedHours float64      `json:"searched_hours,omitempty"`
	Explanation   *Explanation `json:"explanation,omitempty"`
	Radiogram     *Radiogram   `json:"radiogram,omitempty"`
}

// Unassumed is the best chain without the assumptions.
type Unassumed struct {
	Stations            []string `json:"stations"` // none when there is no chain
	DeliveredByDeadline float64  `json:"delivered_by_deadline"`
}

// String says it in half a sentence.
func (u *Unassumed) String() string {
	if len(u.Stations) == 0 {
		return "no chain"
	}
	return strings.Join(u.Stations, Arrow) + ", delivered by the deadline with " + Percent(u.DeliveredByDeadline)
}

// comparison tells before and after, "" when nothing was assumed.
func (v *Route) comparison() string {
	if v.Before == nil {
		return ""
	}
	var with Unassumed
	if len(v.Chains) > 0 {
		with = Unassumed{Stations: v.Chains[0].Stations, DeliveredByDeadline: v.Chains[0].DeliveredByDeadline}
	}
	return "Without the assumptions: " + v.Before.String() + ".\nWith them: " + with.String() + "."
}

// Chain is one way for the message to go.
type Chain struct {
	Stations            []string   `json:"stations"`
	DeliveredByDeadline float64    `json:"delivered_by_deadline"`
	MeanMinutes         *float64   `json:"mean_minutes"`
	P50Minutes          *float64   `json:"p50_minutes"`
	P80Minutes          *float64   `json:"p80_minutes"`
	P90Minutes          *float64   `json:"p90_minutes"`
	P95Minutes          *float64   `json:"p95_minutes"`
	ConfirmedByDeadline float64    `json:"confirmed_by_deadline"`
	AirtimeSeconds      float64    `json:"airtime_seconds"`
	EnergyWh            *float64   `json:"energy_wh"`
	StationAirtime      []float64  `json:"station_airtime_seconds"`
	StationEnergyWh     []*float64 `json:"station_energy_wh"`
	Hops                []Hop      `json:"hops"`
	Weakest             int        `json:"weakest_hop"`
	// Arrival[s] is the chance that it is there by the end of slot s, up to the deadline.
	Arrival []float64 `json:"-"`
	// ReservePassed are stations of the chain whose batteries would reach their reserve.
	ReservePassed []ReservePassed `json:"reserve_passed"`
}

// ReservePassed is a station whose battery would reach its reserve.
type ReservePassed struct {
	Station string    `json:"station"`
	At      time.Time `json:"at"`
	Idle    bool      `json:"without_traffic_too"` // it would without sending anything, too
	// IdleAt is when, without sending anything; nil when it wouldn't.
	IdleAt *time.Time `json:"without_traffic_at,omitempty"`
	// EmptyAt is when the battery is flat under a timetable, and Past the messages that the
	// station still has reservations for then.
	EmptyAt *time.Time `json:"empty_at,omitempty"`
	Past    []string   `json:"planned_past_that,omitempty"`
}

// Hop is one hop of a chain.
type Hop struct {
	From          string     `json:"from"`
	To            string     `json:"to"`
	Channel       string     `json:"channel"`
	Decode        float64    `json:"decode"`
	ReverseDecode float64    `json:"reverse_decode"`
	SNRDB         *float64   `json:"snr_db"`
	SNRSDDB       *float64   `json:"snr_sd_db"`
	AgeMinutes    *float64   `json:"age_minutes"`
	Freshness     float64    `json:"freshness"`
	Inferred      bool       `json:"inferred"`
	Known         bool       `json:"known"`
	ReverseKnown  bool       `json:"reverse_known"`
	Reports       int        `json:"reports"`
	Misses        int        `json:"misses"`
	GiveUpAt      *time.Time `json:"give_up_at"`
	Then          []string   `json:"then"` // the next best chain from here, nil when there is none
	ThenChance    *float64   `json:"then_delivered_by_deadline"`
	Why           string     `json:"why"` // what is doubtful about it, "" when nothing is
	// BlindSendings is how often the message is sent without acknowledgment, 0
	// where it is acknowledged. NoReverse says that there is no link to answer on.
	BlindSendings int  `json:"blind_sendings,omitempty"`
	NoReverse     bool `json:"-"`
}

// Backup is the best pair of chains that share no relay.
type Backup struct {
	Chains              [2]int     `json:"chains"`
	DeliveredByDeadline float64    `json:"delivered_by_deadline"`
	Both                bool       `json:"both"`
	SwitchAt            *time.Time `json:"switch_at"`
}

// RoleStation is another station with the role asked for.
type RoleStation struct {
	Station             string  `json:"station"`
	DeliveredByDeadline float64 `json:"delivered_by_deadline"`
}

// RoleBackup is a second chain to another station with the role asked for.
type RoleBackup struct {
	Chain               Chain      `json:"chain"`
	DeliveredByDeadline float64    `json:"delivered_by_deadline"` // at least one of the two
	SwitchAt            *time.Time `json:"switch_at"`
}

// Hold is the advice to wait.
type Hold struct {
	Until         time.Time `json:"until"`
	DeliveredNow  float64   `json:"delivered_now"`
	DeliveredThen float64   `json:"delivered_then"`
	P50Now        *float64  `json:"p50_minutes_now"`
	P50Then       *float64  `json:"p50_minutes_then"`
}

// Arrow joins the stations of a chain.
const Arrow = " → "

// Document tells the chains.
func (v *Route) Document() Document {
	d := v.open(fmt.Sprintf("%s%s%s: %s, %s, by %s", v.From, Arrow, v.To,
		Count(v.Characters, "character", "characters"), Count(v.Frames, "frame", "frames"), v.Clock.At(v.Deadline)))
	if len(v.Chains) == 0 {
		d.Say("No chain found by then. " + v.Missing)
		d.Say(v.instead())
		d.Say(v.comparison())
		v.asKeyed(&d)
		v.close(&d)
		return d
	}
	best := &v.Chains[0]
	d.Say(v.headline(best))
	d.Say(v.confirmed(best))
	d.Say(v.instead())
	d.Say(v.others())
	d.Say(v.comparison())
	if v.Hold != nil {
		d.Say(fmt.Sprintf("Better: hold until %s. Sent now %s; sent then %s.", v.Clock.At(v.Hold.Until),
			Chance(v.Hold.DeliveredNow), Chance(v.Hold.DeliveredThen)))
	}
	d.Add(v.chainTable())
	d.Say(v.more())
	d.Title("First chain, hop by hop")
	d.Add(v.hopTable(best))
	d.Say(v.silence(best))
	d.Say(v.weakest(best))
	d.Say(v.backup())
	v.anyRelay(&d, best)
	v.explained(&d, best)
	v.asKeyed(&d)
	notes := []string{}
	if v.Best < len(v.Chains) {
		notes = append(notes, fmt.Sprintf("Chains marked * are not among the %d asked for: none beats them in chance, time and airtime at once, or they are in the backup pair.", v.Best))
	}
	if len(v.Chains) > 1 || v.RoleBackup != nil {
		notes = append(notes, duplicates)
	}
	if !v.Proven {
		notes = append(notes, "Best of the chains looked at; a better one has not been ruled out.")
	}
	v.close(&d, notes...)
	return d
}

func (v *Route) headline(c *Chain) string {
	by := v.Clock.At(v.Deadline)
	s := fmt.Sprintf("Best: %s. Delivered by %s: %s.", strings.Join(c.Stations, Arrow), by, Chance(c.DeliveredByDeadline))
	if c.P50Minutes == nil {
		return s + " Less than half of all tries arrive by then."
	}
	s += " Half of all tries are through by " + v.minute(c.P50Minutes)
	if c.P80Minutes != nil {
		s += ", 8 in 10 by " + v.minute(c.P80Minutes)
	} else {
		s += "; 8 in 10 are not reached by the deadline"
	}
	return s + "."
}

// others tells of the other stations with the role asked for.
func (v *Route) others() string {
	if v.Role == "" {
		return ""
	}
	s := v.To + " is the best " + v.Role + " from here"
	for i, o := range v.Others {
		if i == 0 {
			s += "; the others: "
		} else {
			s += ", "
		}
		s += o.Station + " " + Percent(o.DeliveredByDeadline)
	}
	return s + "."
}

// minute tells the time so many minutes after the moment, or a dash.
func (v *Route) minute(m *float64) string {
	if m == nil {
		return "-"
	}
	return v.Clock.After(v.At, *m)
}

// Short is minute for a narrow column.
func (v *Route) Short(m *float64) string {
	if m == nil {
		return "-"
	}
	return v.Clock.Short(v.At.Add(time.Duration(*m * float64(time.Minute))))
}

func (v *Route) chainTable() *Table {
	t := &Table{Columns: []Column{
		{Head: "", Name: ""},
		{Head: "CHANCE", Right: true, Chance: true, Name: "chance"},
		{Head: "50 %", Right: true, Name: "half by"},
		{Head: "80 %", Right: true, Name: "8 in 10 by"},
		{Head: "AIRTIME", Right: true, Name: "airtime"},
		{Head: "Wh", Right: true, Name: "Wh"},
		{Head: "CHAIN", Name: "chain"},
	}}
	for i := range v.Chains {
		if !v.shown(i) {
			continue
		}
		c := &v.Chains[i]
		t.Rows = append(t.Rows, []string{
			v.mark(i), Percent(c.DeliveredByDeadline), v.Short(c.P50Minutes), v.Short(c.P80Minutes),
			fmt.Sprintf("%.0f s", c.AirtimeSeconds),
			number(c.EnergyWh, func(f float64) string { return strconv.FormatFloat(f, 'f', 1, 64) }, "?"),
			ChainWithChannels(c),
		})
	}
	return t
}

// mostOthers is how many chains beside the best and the backup pair are shown.
const mostOthers = 4

// shown reports whether the i-th chain has a row of its own in text.
func (v *Route) shown(i int) bool {
	backup := func(i int) bool { return v.Backup != nil && (v.Backup.Chains[0] == i || v.Backup.Chains[1] == i) }
	if i < v.Best || backup(i) {
		return true
	}
	before := 0
	for j := v.Best; j < i; j++ {
		if !backup(j) {
			before++
		}
	}
	return before < mostOthers
}

// more counts the chains that are not shown, "" when all are.
func (v *Route) more() string {
	n := 0
	for i := range v.Chains {
		if !v.shown(i) {
			n++
		}
	}
	if n == 0 {
		return ""
	}
	return fmt.Sprintf("And %s that none beats in chance, time and airtime at once; --format json or csv lists all.", Count(n, "more chain", "more chains"))
}

// confirmed tells of the reply, where one was asked for.
func (v *Route) confirmed(c *Chain) string {
	if !v.Confirm {
		return ""
	}
	return fmt.Sprintf("With a short reply: %s has it by %s: %s. Airtime and energy count the reply.", v.From, v.Clock.At(v.Deadline), Chance(c.ConfirmedByDeadline))
}

// mark numbers a chain, with a letter for those listed only because they are
// in the backup pair or unbeaten.
func (v *Route) mark(i int) string {
	if i < v.Best {
		return strconv.Itoa(i + 1)
	}
	return strconv.Itoa(i+1) + "*"
}

// ChainWithChannels writes a chain, naming the channel where it changes.
func ChainWithChannels(c *Chain) string {
	var b strings.Builder
	b.WriteString(c.Stations[0])
	last := ""
	for i := range c.Hops {
		b.WriteString(Arrow + c.Hops[i].To)
		if ch := c.Hops[i].Channel; ch != last {
			b.WriteString(" (" + ch + ")")
			last = ch
		}
	}
	return b.String()
}

func (v *Route) hopTable(c *Chain) *Table {
	t := &Table{Columns: []Column{
		{Head: "FROM"},
		{Head: "TO", Name: "to"},
		{Head: "CHANNEL", Name: "on"},
		{Head: "DECODES", Right: true, Chance: true, Name: "decodes"},
		{Head: "ANSWER", Right: true, Chance: true, Name: "answer decodes"},
		{Head: "SNR dB", Right: true, Name: "SNR in dB"},
		{Head: "AGE", Right: true, Name: "evidence age"},
		{Head: "GIVE UP AT", Right: true, Name: "give up at"},
	}}
	for i := range c.Hops {
		h := &c.Hops[i]
		giveUp := "-"
		if h.GiveUpAt != nil {
			giveUp = v.Clock.Slot(*h.GiveUpAt)
		}
		t.Rows = append(t.Rows, []string{
			h.From, h.To, h.Channel, Percent(h.Decode), h.answer(), giveOrTake(h.SNRDB, h.SNRSDDB),
			number(h.AgeMinutes, ageOf, "stated"),
			giveUp,
		})
	}
	return t
}

// answer tells the chance of the answering direction.
func (h *Hop) answer() string {
	if h.NoReverse {
		return "none"
	}
	if !h.ReverseKnown && h.ReverseDecode == 0 {
		return "unknown"
	}
	return Percent(h.ReverseDecode)
}

// silence says what each sender does when it hears nothing.
func (v *Route) silence(c *Chain) string {
	var lines []string
	for i := range c.Hops {
		h := &c.Hops[i]
		if h.BlindSendings > 0 {
			lines = append(lines, fmt.Sprintf("%s sends the whole message %s to %s, which is not heard, and waits for nothing.",
				h.From, Count(h.BlindSendings, "time", "times"), h.To))
			continue
		}
		if h.GiveUpAt == nil {
			continue
		}
		s := "When " + h.To + " stays silent until " + v.Clock.At(*h.GiveUpAt) + ": "
		if h.Then == nil {
			s += "there is no other chain from " + h.From + "; keep the message and try the next window."
		} else {
			s += "send " + strings.Join(h.Then, Arrow)
			if h.ThenChance != nil {
				s += " (" + Percent(*h.ThenChance) + " if started at once)"
			}
			s += "."
		}
		lines = append(lines, s)
	}
	return strings.Join(lines, "\n")
}

func (v *Route) weakest(c *Chain) string {
	if c.Weakest < 0 || c.Weakest >= len(c.Hops) {
		return ""
	}
	h := &c.Hops[c.Weakest]
	s := "Weakest hop: " + h.From + Arrow + h.To
	switch {
	case h.Why != "":
		s += " (" + h.Why + ")"
	case len(c.Hops) > 1:
		s += " (nothing is doubtful about it; the others are surer)"
	}
	return s + "."
}

func (v *Route) backup() string {
	if b := v.RoleBackup; b != nil {
		return fmt.Sprintf("Backup through a different %s: %s, sent when %s has used up its rounds without an answer; at least one delivers: %s.",
			v.Role, strings.Join(b.Chain.Stations, Arrow), v.From, Chance(b.DeliveredByDeadline))
	}
	if b := v.Backup; b != nil {
		how := "the second sent when " + v.From + " has used up its rounds without an answer"
		if b.SwitchAt != nil {
			how += ", usually by " + v.Clock.At(*b.SwitchAt)
		}
		if b.Both {
			how = "both sent at once"
		}
		return fmt.Sprintf("Backup: chains %d and %d share no relay; %s, at least one delivers: %s.",
			b.Chains[0]+1, b.Chains[1]+1, how, Chance(b.DeliveredByDeadline)) + v.poor(b)
	}
	if len(v.Shared) > 0 {
		return "No backup that shares no relay: every chain passes " + Names(v.Shared) + "."
	}
	return ""
}

// poorBackup is the chance by the deadline under which a chain of the backup pair is called no help: a choice.
const poorBackup = 0.2

// poor says when the second chain of the backup pair hardly delivers by itself.
func (v *Route) poor(b *Backup) string {
	if b.Chains[1] >= len(v.Chains) || v.Chains[b.Chains[1]].DeliveredByDeadline >= poorBackup {
		return ""
	}
	return fmt.Sprintf(" Chain %d is hardly a backup: by itself %s.", b.Chains[1]+1, Percent(v.Chains[b.Chains[1]].DeliveredByDeadline))
}

// Records gives the chains as rows.
func (v *Route) Records() ([]string, [][]string) {
	names := []string{
		"chain", "delivered_by_deadline", "p50_minutes", "p80_minutes", "p90_minutes", "p95_minutes",
		"confirmed_by_deadline", "airtime_seconds", "energy_wh", "channels",
	}
	var rows [][]string
	for i := range v.Chains {
		c := &v.Chains[i]
		channels := make([]string, len(c.Hops))
		for j := range c.Hops {
			channels[j] = c.Hops[j].Channel
		}
		rows = append(rows, []string{
			strings.Join(c.Stations, " - "), exact(c.DeliveredByDeadline),
			number(c.P50Minutes, exact, ""), number(c.P80Minutes, exact, ""), number(c.P90Minutes, exact, ""),
			number(c.P95Minutes, exact, ""), exact(c.ConfirmedByDeadline), exact(c.AirtimeSeconds),
			number(c.EnergyWh, exact, ""), strings.Join(channels, " "),
		})
	}
	return names, rows
}

// Routes is the answers for several destinations, in the asked order.
type Routes []*Route

// Document tells one after the other.
func (v Routes) Document() Document {
	var d Document
	for _, r := range v {
		d.Blocks = append(d.Blocks, r.Document().Blocks...)
	}
	return d
}

// Records gives all chains, with their destination first.
func (v Routes) Records() (names []string, rows [][]string) {
	for _, r := range v {
		n, rs := r.Records()
		names = append([]string{"to"}, n...)
		for _, row := range rs {
			rows = append(rows, append([]string{r.To}, row...))
		}
	}
	return names, rows
}
