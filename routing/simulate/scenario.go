package simulate

import (
	"errors"
	"fmt"
	"time"

	"farhop/mesh"
)

// Source is what the simulation asks of links; *mesh.Links is one. It is asked
// by several goroutines at once unless there is one worker.
type Source interface {
	Edge(from, to, channel int, unix int64) (mesh.Edge, bool)
}

// Scenario is one message on one chain.
type Scenario struct {
	Net      *mesh.Net     // prepared
	Links    Source        // what is known of its links
	Stations []int         // origin, relays in order, destination: indexes into Net.Stations, none twice
	Channels []int         // of each hop, one less than Stations: indexes into Net.Channels
	Frames   int           // of the message on every hop, header and identification included (mesh.Slots.Frames), ≥ 1
	Start    int64         // the moment asked for, Unix seconds; slot 0 is the first to begin at or after it
	Deadline time.Duration // after Start; what happens in a slot is in time if the slot ends by then
	Confirm  bool          // a reply returns over the reversed chain
	Unknown  bool          // use directions that are unknown at the time
	Inferred bool          // use directions inferred from the opposite one
}

// What a scenario can be refused for.
var (
	ErrNet      = errors.New("a prepared net and its links are needed")
	ErrChain    = errors.New("a chain is two or more different stations of the net, and a channel of the net for each hop")
	ErrFrames   = fmt.Errorf("a message has 1 to %d frames", mostFrames)
	ErrDeadline = fmt.Errorf("the deadline must lie after the start and within %d slots", mostSlots)
)

const (
	mostFrames  = 1_000_000
	mostSlots   = 10_000_000
	replyFrames = 2                                   // of a reply, whatever headers the net uses
	quarter     = int64(mesh.StateStep / time.Second) // link states are taken at whole quarters after the start
)

// check says what keeps the scenario from being played.
func (s *Scenario) check() error {
	if s.Net == nil || s.Links == nil {
		return ErrNet
	}
	n := s.Net.Slots
	if n.PerDay()*n.Seconds() != mesh.DaySeconds || n.Rounds < 1 || n.Ack < 0 || n.Turnaround < 0 || n.Block < 0 || !(n.Busy >= 0 && n.Busy < 1) {
		return ErrNet
	}
	if s.Frames < 1 || s.Frames > mostFrames {
		return ErrFrames
	}
	if s.Deadline <= 0 || s.Deadline/time.Second/time.Duration(n.Seconds()) > mostSlots {
		return ErrDeadline
	}
	return s.checkChain()
}

func (s *Scenario) checkChain() error {
	if len(s.Stations) < 2 || len(s.Channels) != len(s.Stations)-1 {
		return ErrChain
	}
	seen := make(map[int]bool)
	for _, v := range s.Stations {
		if v < 0 || v >= len(s.Net.Stations) || seen[v] {
			return ErrChain
		}
		seen[v] = true
	}
	for _, c := range s.Channels {
		if c < 0 || c >= len(s.Net.Channels) {
			return ErrChain
		}
	}
	return nil
}

// course is a scenario made ready to be played. Nothing writes to it.
type course struct {
	Scenario
	slots  mesh.Slots
	hops   []hop
	first  int64 // start of slot 0, Unix seconds
	length int64 // of a slot in seconds
	inTime int   // so many slots end by the deadline
}

// hop is the slots open to one hop of the chain. Windows are times of day and a
// day is a whole number of slots, so that they repeat every day.
type hop struct {
	wait  []int32 // by slot of the day: how many slots until the next open one, 0 if it is open itself; nil when none ever is
	shift int     // which slot of the day slot 0 is
}

func (s Scenario) course() (*course, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	c := &course{Scenario: s, slots: s.Net.Slots, first: s.Net.Slots.Start(s.Start), length: s.Net.Slots.Seconds()}
	c.inTime = int(max(0, (s.Deadline-time.Duration(c.first-s.Start)*time.Second)/s.Net.Slots.Length))
	for i, channel := range s.Channels {
		c.hops = append(c.hops, c.newHop(s.Stations[i], s.Stations[i+1], channel))
	}
	return c, nil
}

// newHop looks through the slots of a day, backwards from the end of the second
// of two equal days.
func (c *course) newHop(from, to, channel int) hop {
	perDay := int(c.slots.PerDay())
	midnight := c.first - mod(c.first, mesh.DaySeconds)
	h := hop{wait: make([]int32, perDay), shift: int((c.first - midnight) / c.length)}
	until, found := int32(0), false
	for i := 2*perDay - 1; i >= 0; i-- {
		until++
		if c.Net.OpenSlot(from, to, channel, midnight+int64(i%perDay)*c.length) {
			until, found = 0, true
		}
		h.wait[i%perDay] = until
	}
	if !found {
		h.wait = nil
	}
	return h
}

// next is the first slot at or after the given one that is open to the hop,
// which must have one.
func (h *hop) next(slot int) int {
	return slot + int(h.wait[(slot+h.shift)%len(h.wait)])
}

// mod is a modulo b, 0…b−1 also for negative a.
func mod(a, b int64) int64 { return (a%b + b) % b }
