package mesh

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"farhop/observations"
)

// row is a report in short: an empty frequency means none was given, a line
// number counts by itself.
type row struct {
	unix             int64
	receiver, sender string
	snr              float32
	hz               uint32
	power            float32
	receiverAt       string // locators
	senderAt         string
	channel          string
}

// makeLog makes rows a log as reading would leave it.
func makeLog(rows []row, claims ...observations.Claim) *observations.Log {
	log := &observations.Log{Sources: []string{"test.csv"}, Claims: claims}
	sites := make(map[observations.Site]observations.SiteID)
	site := func(call, locator string) observations.SiteID {
		s := observations.Site{Call: strings.ToUpper(call), Locator: locator}
		id, ok := sites[s]
		if !ok {
			id = observations.SiteID(len(log.Sites))
			sites[s] = id
			log.Sites = append(log.Sites, s)
		}
		return id
	}
	for i, r := range rows {
		report := observations.Report{
			Time: r.unix, Frequency: r.hz, SNR: r.snr, Power: r.power, Line: uint32(i + 1),
			Receiver: site(r.receiver, r.receiverAt), Sender: site(r.sender, r.senderAt),
		}
		if r.channel != "" {
			at := slices.Index(log.Channels, r.channel)
			if at < 0 {
				at = len(log.Channels)
				log.Channels = append(log.Channels, r.channel)
			}
			report.Channel = uint16(at + 1)
		}
		log.Reports = append(log.Reports, report)
	}
	slices.SortStableFunc(log.Reports, func(a, b observations.Report) int {
		return cmp.Or(cmp.Compare(a.Time, b.Time),
			strings.Compare(log.Call(a.Sender), log.Call(b.Sender)), strings.Compare(log.Call(a.Receiver), log.Call(b.Receiver)),
			cmp.Compare(a.Frequency, b.Frequency), cmp.Compare(a.SNR, b.SNR), cmp.Compare(a.Line, b.Line))
	})
	log.Counts.Read = len(rows)
	return log
}

// site finds a site that the rows of a log made.
func site(t *testing.T, log *observations.Log, call string) observations.SiteID {
	t.Helper()
	for i := range log.Sites {
		if log.Sites[i].Call == call {
			return observations.SiteID(i)
		}
	}
	t.Fatalf("no site %s", call)
	return 0
}

const (
	dayHz, nightHz, otherHz = 7131000, 3651000, 14101000
	forever                 = math.MaxInt64
)

// traced runs Trace and writes each report, miss and move as text.
func traced(t *testing.T, n *Net, log *observations.Log, at int64) ([]string, *Account) {
	t.Helper()
	var events []Event
	a, err := Trace(context.Background(), n, log, at, func(batch []Event) error {
		events = append(events, batch...)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	var list []string
	for _, e := range events {
		if !e.Kind.Evidence() && e.Kind != EventMove {
			continue
		}
		p := a.Pairs[e.Link]
		kind := []string{"report", "unwitnessed", "miss", "move"}[e.Kind]
		s := fmt.Sprintf("%s %s→%s %s %s", time.Unix(e.Unix, 0).UTC().Format("15:04:05"),
			n.Stations[p.From].Call, n.Stations[p.To].Call, a.Bands[p.Band], kind)
		if e.Kind != EventMiss {
			s += fmt.Sprintf(" %.4g", e.Value)
		}
		if e.Raise != 0 {
			s += fmt.Sprintf(" raise %.4g", e.Raise)
		}
		list = append(list, s)
	}
	return list, a
}

// abcNet has stations A, B and C that listen as the change says, on day (40 m)
// and night (80 m), 2 minute slots.
func abcNet(t *testing.T, change func(*Net)) *Net {
	t.Helper()
	n := &Net{Slots: DefaultSlots(), Channels: []Channel{{Name: "day", Frequency: dayHz}, {Name: "night", Frequency: nightHz}}}
	n.Slots.Length, n.Slots.Keyed = 2*time.Minute, time.Minute
	for _, call := range []string{"A", "B", "C"} {
		n.Stations = append(n.Stations, Station{Call: call, PowerW: 10})
	}
	if change != nil {
		change(n)
	}
	return prepared(t, n)
}

func watch(station int, w Watch) func(*Net) {
	return func(n *Net) { n.Stations[station].Watch = w }
}
