package config

import (
	"regexp"
	"strings"
	"testing"
	"unicode/utf8"
)

// walk visits every key of the plan with its path.
func walk(keys []Key, path string, visit func(k Key, path string)) {
	for _, k := range keys {
		at := join(path, k.Name)
		visit(k, at)
		walk(k.Keys, at, visit)
	}
}

// words is a text without comment signs and line breaks.
func words(s string) string {
	return strings.Join(strings.Fields(strings.ReplaceAll(s, "#", " ")), " ")
}

func TestKeysAreDescribed(t *testing.T) {
	count := 0
	walk(Keys(), "", func(k Key, path string) {
		count++
		if k.Help == "" || !strings.HasSuffix(k.Help, ".") || k.Type == "" {
			t.Errorf("%s lacks a sentence or a type: %+v", path, k)
		}
		if k.Required && (k.Default != "" || k.DefaultNote != "") {
			t.Errorf("%s is required and has a default", path)
		}
		if strings.HasSuffix(k.Name, "_db") != (k.Unit == "dB") || strings.HasSuffix(k.Name, "_hz") != (k.Unit == "Hz") ||
			strings.HasSuffix(k.Name, "_w") != (k.Unit == "W") {
			t.Errorf("%s: unit %q does not fit the name", path, k.Unit)
		}
	})
	if count < 70 {
		t.Errorf("only %d keys", count)
	}
}

func TestExplain(t *testing.T) {
	all, err := Explain("")
	if err != nil {
		t.Fatal(err)
	}
	walk(Keys(), "", func(k Key, path string) {
		if !strings.Contains(words(all), words(k.Name+": "+k.Expectation()+"; "+k.Fallback()+" "+k.Help)) {
			t.Errorf("%s is not explained", path)
		}
		one, err := Explain(path)
		if err != nil || !strings.HasPrefix(one, k.Name+": ") {
			t.Errorf("Explain(%s) = %q, %v", path, one, err)
		}
	})
	got, err := Explain("stations[2].supply.reserve")
	want := "reserve: number, 0 to 0.99; default 0.2\n    The share of the battery that must stay untouched: 0.2 is a fifth.\n\n"
	if got != want || err != nil {
		t.Errorf("got %q, %v", got, err)
	}
	for path, want := range map[string]string{
		"stations.suply":      "the plan has no key stations.suply; known there are call, licensed_call,",
		"net.name":            "the plan has no key net.name",
		"slots.identify.evry": "known there are every",
	} {
		if _, err := Explain(path); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("Explain(%s): %v", path, err)
		}
	}
}

var switchedOff = regexp.MustCompile(`(?m)^(\s*)#(\S)`)

func TestStarter(t *testing.T) {
	plan := string(Starter())
	n := mustLoad(t, plan)
	if len(n.Stations) != 3 || len(n.Channels) != 2 || len(n.Fixed) != 0 || len(n.Traffic) != 0 {
		t.Errorf("starter net %+v", n)
	}
	on := switchedOff.ReplaceAllString(plan, "$1$2")
	n = mustLoad(t, on)
	if len(n.Fixed) != 2 || len(n.Traffic) != 2 || n.Slots.Identify == 0 {
		t.Errorf("starter net with everything switched on: %+v", n)
	}
	walk(Keys(), "", func(k Key, path string) {
		if !strings.Contains(words(plan), words(k.Help)) {
			t.Errorf("%s is not explained", path)
		}
		if !regexp.MustCompile(`(?m)^[^#]*\b` + k.Name + `:`).MatchString(on) {
			t.Errorf("%s is not shown", path)
		}
	})
	for _, line := range strings.Split(plan, "\n") {
		if strings.HasPrefix(strings.TrimSpace(line), "# ") && utf8.RuneCountInString(line) > width {
			t.Errorf("long comment: %s", line)
		}
	}
	if plan != string(Starter()) {
		t.Error("not the same twice")
	}
}

func TestNearest(t *testing.T) {
	keys := []string{"power_w", "max_power_w", "on_air", "watch", "also"}
	for word, want := range map[string]string{
		"powr_w": "power_w", "POWER-W": "power_w", "power": "power_w", "max_power": "max_power_w", "onair": "on_air",
		"wacth": "watch", "als": "also", "zzz": "", "": "", "x": "", strings.Repeat("w", 100): "",
	} {
		if got := nearest(word, keys); got != want {
			t.Errorf("nearest(%q) = %q, want %q", word, got, want)
		}
	}
}

func TestDistance(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{{"", "", 0}, {"", "abc", 3}, {"abc", "abc", 0}, {"abc", "acb", 1}, {"kitten", "sitting", 3}, {"ca", "abc", 3}} {
		if d := distance(c.a, c.b); d != c.want || distance(c.b, c.a) != c.want {
			t.Errorf("distance(%q, %q) = %d, want %d", c.a, c.b, d, c.want)
		}
	}
}

func TestSpan(t *testing.T) {
	for _, s := range []string{"0s", "1s", "40s", "34.5s", "1m", "1m30s", "10m", "1h", "1h30m", "13h30m", "24h", "36h", "2d", "61d", "0.001s"} {
		d, ok := parseSpan(s)
		if !ok || span(d) != s {
			t.Errorf("%s is read as %v and written as %s", s, d, span(d))
		}
	}
	for s, want := range map[string]string{"90m": "1h30m", "1d": "24h", "0.5h": "30m", "120s": "2m", "1d12h": "36h"} {
		if d, ok := parseSpan(s); !ok || span(d) != want {
			t.Errorf("%s is written as %s, want %s", s, span(d), want)
		}
	}
	for _, s := range []string{"", "1", "s", "-1s", "1 s", "1ms", "1µs", "1e3s", "1,5s", "99999999999h", "999999d", "0x1s", "1.s", ".5s"} {
		if d, ok := parseSpan(s); ok {
			t.Errorf("%q is read as %v", s, d)
		}
	}
}

func TestProblemString(t *testing.T) {
	for want, p := range map[string]Problem{
		"f: m":                   {Source: "f", Message: "m"},
		"f:3: m":                 {Source: "f", Line: 3, Message: "m"},
		"f:3:4: a.b: m; do":      {Source: "f", Line: 3, Column: 4, Path: "a.b", Message: "m", Mend: "do"},
		"f:3:4: warning: a.b: m": {Source: "f", Line: 3, Column: 4, Path: "a.b", Message: "m", Warning: true},
	} {
		if got := p.String(); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
	if got := shorten("a\nb\x00" + strings.Repeat("é", 100)); got != "a b\uFFFD"+strings.Repeat("é", 36)+"…" {
		t.Errorf("shortened to %q", got)
	}
}
