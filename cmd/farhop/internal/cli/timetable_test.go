package cli

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"
)

const (
	aysenPlan = "../../../../examples/aysen/plan.yaml"
	aysenLog  = "../../../../examples/aysen/observations.csv.gz"
)

func timetableOf(t *testing.T, args ...string) *printedTimetable {
	t.Helper()
	status, stdout, stderr := run(append([]string{"timetable", "--format", "json"}, args...)...)
	if status != exitDone {
		t.Fatalf("exit %d: %s", status, stderr)
	}
	return readTimetable(t, stdout)
}

// The example's timetable breaks no rule, with and without late messages.
func TestTimetableOfExample(t *testing.T) {
	for _, more := range [][]string{nil, {"--late", "--catch-up", "0s", "--margin", "0.7"}} {
		args := append([]string{"--plan", aysenPlan, "--observations", aysenLog, "--at", "newest"}, more...)
		p := timetableOf(t, args...)
		if len(p.Transmissions) < 8 || len(p.Messages) != 8 {
			t.Fatalf("%d transmissions, %d messages", len(p.Transmissions), len(p.Messages))
		}
		for _, wrong := range newChecker(t, aysenPlan, aysenLog, p).check() {
			t.Errorf("%v: %s", more, wrong)
		}
		sendings, reached := 0, 0
		for i := range p.Transmissions {
			if x := &p.Transmissions[i]; x.Message == "M5" {
				sendings, reached = sendings+1, reached+len(x.To)
			}
		}
		if more == nil && (sendings > 3 || reached < 15) {
			t.Errorf("M5 goes to %d members in %d transmissions; it can go to 15 in 3", reached, sendings)
		}
	}
}

// writePlan writes a plan with stations strewn at random, and a traffic list.
func writePlan(t testing.TB, seed uint64, stations, messages int) (plan, traffic string) {
	t.Helper()
	return writeLimited(t, seed, stations, messages, "", "")
}

// writeLimited writes such a plan with limits of the net, and with settings of every
// third station.
func writeLimited(t testing.TB, seed uint64, stations, messages int, net, station string) (plan, traffic string) {
	t.Helper()
	r := rand.New(rand.NewPCG(seed, 7))
	var b strings.Builder
	b.WriteString(`net: Strewn
slots: {length: 40s, keyed: 34s, characters: 18, block_frames: 8, half_decode_snr_db: -16, busy: 0.1}
channels:
  - {name: day, frequency_hz: 7131000, windows: ["08:00-20:00"], offsets_hz: [800, 1200, 1600]}
  - {name: night, frequency_hz: 3651000, windows: ["18:00-10:00"], offsets_hz: [700, 1500]}
stations:
`)
	x, y := make([]float64, stations), make([]float64, stations)
	for i := range stations {
		x[i], y[i] = r.Float64()*1.6, r.Float64()
		hours := "00:00-24:00"
		if r.IntN(3) == 0 {
			hours = "05:00-22:00"
		}
		more := ""
		if i%3 == 0 {
			more = station
		}
		fmt.Fprintf(&b, "  - {call: S%02d, power_w: 10, on_air: [\"%s\"]%s}\n", i, hours, more)
	}
	b.WriteString(net)
	b.WriteString("links:\n")
	for i := range stations {
		for j := range stations {
			d := (x[i]-x[j])*(x[i]-x[j]) + (y[i]-y[j])*(y[i]-y[j])
			if snr := 0 - 60*d; i != j && snr > -35 {
				for _, ch := range []string{"day", "night"} {
					fmt.Fprintf(&b, "  - {from: S%02d, to: S%02d, channel: %s, snr_db: %.1f, snr_sd_db: 3}\n", i, j, ch, snr)
				}
			}
		}
	}
	dir := t.TempDir()
	plan, traffic = filepath.Join(dir, "plan.yaml"), filepath.Join(dir, "traffic.csv")
	list := "id,from,to,characters,precedence,ready,deadline\n"
	for k := range messages {
		from := r.IntN(stations)
		to := fmt.Sprintf("S%02d", (from+1+r.IntN(stations-1))%stations)
		if k%13 == 5 {
			to = "every-member"
		}
		ready := exampleMoment.Add(time.Duration(r.IntN(600)) * time.Minute)
		list += fmt.Sprintf("M%d,S%02d,%s,%d,%s,%s,%s\n", k, from, to, 20+r.IntN(120),
			[]string{"EMERGENCY", "PRIORITY", "WELFARE", "ROUTINE"}[min(3, r.IntN(6))],
			ready.Format(time.RFC3339), ready.Add(time.Duration(90+r.IntN(400))*time.Minute).Format(time.RFC3339))
	}
	for path, text := range map[string]string{plan: b.String(), traffic: list} {
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return plan, traffic
}

// Timetables of random nets under heavy traffic break no rule, use offsets again
// where stations don't hear each other, and leave the higher precedences as they
// would be alone.
func TestTimetableOfRandomNets(t *testing.T) {
	again := 0
	for seed := range uint64(2) {
		plan, traffic := writePlan(t, seed, 14, 40)
		args := []string{"--plan", plan, "--traffic", traffic}
		p := timetableOf(t, args...)
		for _, wrong := range newChecker(t, plan, "", p).check() {
			t.Errorf("seed %d: %s", seed, wrong)
		}
		again += shared(p)
		for _, lowest := range []string{"PRIORITY", "WELFARE", "ROUTINE"} {
			higher := timetableOf(t, "--plan", plan, "--traffic", without(t, traffic, lowest))
			kept := map[string]bool{}
			for _, m := range higher.Messages {
				kept[m.ID] = true
			}
			var same []printedTransmission
			for _, x := range p.Transmissions {
				if kept[x.Message] {
					same = append(same, x)
				}
			}
			if !reflect.DeepEqual(same, higher.Transmissions) {
				t.Errorf("seed %d: %s and below change the timetable of those above", seed, lowest)
			}
		}
	}
	if again == 0 {
		t.Error("no offset is ever used twice at a time: the test doesn't show that it may be")
	}
}

// limitedPlan is a net with every limit there is, and the same without.
func limitedPlan(t *testing.T, seed uint64) (limited, free, traffic string) {
	limited, traffic = writeLimited(t, seed, 14, 40,
		"limits: {duty_limit: 0.3, quiet: [\"08:00-08:20\"], clear_hz: 500, side_by_side_db: 5}\n",
		`, duty_limit: 0.12, quiet: ["04:00-06:30"], noisy: [{channel: night, offset_hz: 1500}], soundings: [{channel: night, every: 20m}]`)
	free, _ = writeLimited(t, seed, 14, 40, "", `, soundings: [{channel: night, every: 20m}]`)
	return limited, free, traffic
}

// A timetable keeps the plan's limits, and the checker knows one that doesn't.
func TestTimetableKeepsLimits(t *testing.T) {
	rules := map[string]int{"is quiet": 0, "on the air for": 0, "Hz apart": 0, "too unequal": 0, "hears noise": 0}
	for seed := range uint64(3) {
		limited, free, traffic := limitedPlan(t, seed)
		p := timetableOf(t, "--plan", limited, "--traffic", traffic)
		if len(p.Transmissions) < 15 {
			t.Errorf("seed %d: only %d reservations", seed, len(p.Transmissions))
		}
		for _, wrong := range newChecker(t, limited, "", p).check() {
			t.Errorf("seed %d: %s", seed, wrong)
		}
		p = timetableOf(t, "--plan", free, "--traffic", traffic)
		for _, wrong := range newChecker(t, limited, "", p).check() {
			for rule := range rules {
				if strings.Contains(wrong, rule) {
					rules[rule]++
				}
			}
		}
	}
	for rule, n := range rules {
		if n == 0 {
			t.Errorf("no timetable made without limits is said to break the rule '%s': the test shows nothing of it", rule)
		}
	}
}

// A message injected at EMERGENCY goes first: it is planned as if it were the only
// one, as soon as it is ready, whatever else waits.
func TestInjectedEmergencyGoesFirst(t *testing.T) {
	plan, traffic := writePlan(t, 1, 14, 40)
	data, err := os.ReadFile(traffic)
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.SplitAfter(string(data), "\n")
	list := []string{lines[0]}
	for _, line := range lines[1:] {
		if !strings.Contains(line, "EMERGENCY") {
			list = append(list, line)
		}
	}
	write := func(name string, lines ...string) string {
		path := filepath.Join(t.TempDir(), name)
		if err := os.WriteFile(path, []byte(strings.Join(lines, "")), 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	before := timetableOf(t, "--plan", plan, "--traffic", write("before.csv", list...))
	injected := ""
	for _, m := range before.Messages {
		if m.ID == before.Transmissions[0].Message { // the first on the air
			injected = fmt.Sprintf("NOW,%s,%s,80,EMERGENCY,%s,\n", m.From, m.To, m.Ready.Format(time.RFC3339))
		}
	}
	alone := timetableOf(t, "--plan", plan, "--traffic", write("alone.csv", lines[0], injected))
	after := timetableOf(t, "--plan", plan, "--traffic", write("after.csv", append(list, injected)...))
	var now []printedTransmission
	for _, x := range after.Transmissions {
		if x.Message == "NOW" {
			now = append(now, x)
		}
	}
	if len(now) == 0 || !reflect.DeepEqual(now, alone.Transmissions) {
		t.Errorf("injected: %+v\nalone: %+v", now, alone.Transmissions)
	}
	if reflect.DeepEqual(before.Transmissions[0], after.Transmissions[0]) {
		t.Error("it gets nobody out of its way: the test shows nothing")
	}
	for _, wrong := range newChecker(t, plan, "", after).check() {
		t.Error(wrong)
	}
}

// shared counts pairs of reservations at the same time on the same offset.
func shared(p *printedTimetable) (n int) {
	for i, x := range p.Transmissions {
		for _, y := range p.Transmissions[:i] {
			if x.Channel == y.Channel && x.OffsetHz == y.OffsetHz && x.Start.Before(y.End) && y.Start.Before(x.End) {
				n++
			}
		}
	}
	return n
}

// without writes a traffic list that lacks a precedence and those below it.
func without(t *testing.T, traffic, lowest string) string {
	t.Helper()
	data, err := os.ReadFile(traffic)
	if err != nil {
		t.Fatal(err)
	}
	drop := map[string]bool{"ROUTINE": true}
	drop["WELFARE"] = lowest != "ROUTINE"
	drop["PRIORITY"] = lowest == "PRIORITY"
	var kept []string
	for line := range strings.SplitSeq(strings.TrimSpace(string(data)), "\n") {
		if !drop[strings.Split(line, ",")[4]] {
			kept = append(kept, line)
		}
	}
	path := filepath.Join(t.TempDir(), "traffic.csv")
	if err := os.WriteFile(path, []byte(strings.Join(kept, "\n")+"\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// The checker finds what is wrong in a timetable that was tampered with.
func TestCheckerFindsFaults(t *testing.T) {
	plan, traffic := writePlan(t, 1, 14, 40)
	_, printed, _ := run("timetable", "--plan", plan, "--traffic", traffic, "--format", "json")
	for name, spoil := range map[string]func(p *printedTimetable){
		"a slot early": func(p *printedTimetable) {
			x := &p.Transmissions[0]
			x.Start, x.End = x.Start.Add(-40*time.Minute), x.End.Add(-40*time.Minute)
		},
		"off the slots": func(p *printedTimetable) { p.Transmissions[1].Start = p.Transmissions[1].Start.Add(time.Second) },
		"all at once": func(p *printedTimetable) {
			for i := range p.Transmissions {
				x := &p.Transmissions[i]
				x.Start, x.End = p.Transmissions[0].Start, p.Transmissions[0].Start.Add(x.End.Sub(x.Start))
			}
		},
		"one offset": func(p *printedTimetable) {
			for i := range p.Transmissions {
				if p.Transmissions[i].Channel == "night" {
					p.Transmissions[i].OffsetHz = 700
				}
			}
		},
		"strange offset": func(p *printedTimetable) { p.Transmissions[0].OffsetHz = 801 },
		"a hop less":     func(p *printedTimetable) { p.Transmissions = p.Transmissions[1:] },
		"not sure":       func(p *printedTimetable) { p.Transmissions[2].Done = 0.5 },
		"said to fit": func(p *printedTimetable) {
			for i := range p.Messages {
				p.Messages[i].Fits = true
			}
		},
		"in the catch-up block": func(p *printedTimetable) { p.CatchUp = 50 },
	} {
		p := readTimetable(t, printed)
		c := newChecker(t, plan, "", p)
		if found := c.check(); len(found) > 0 {
			t.Fatal(found)
		}
		spoil(p)
		if found := c.check(); len(found) == 0 {
			t.Errorf("%s: nothing is found", name)
		}
	}
}
