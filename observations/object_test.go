package observations

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestObjects(t *testing.T) {
	l := readText(t, lines(
		`{"time":"2026-03-02T14:20:00Z","receiver":"MILL","sender":"HARBOR","snr_db":-9}`,
		`  { "snr_db" : "-8.5" , "sender" : "harbor", "time" : 1772461220.75, "receiver" : "mill", "frequency_hz": "7131000", "power_w": 5e0,`+
			` "receiver_locator":"re44", "sender_locator":null, "received":"2026-03-02T14:21:00Z" }  `,
		`{"time":1772461260,"receiver":"M\u0049LL","sender":"SUMMIT","snr_db":3,"frequency_hz":null,"power_w":""}`+"\r",
		"",
		`{"time":1772461260,"receiver":"MILL","sender":"POST\/2","snr_db":3}`,
	))
	diff(t, "reports", told(l), lines(
		"2026-03-02T14:20:00Z HARBOR→MILL -9 dB",
		"2026-03-02T14:20:20Z HARBOR→MILL@RE44 -8.5 dB 7131000 Hz 5 W +40 s",
		"2026-03-02T14:21:00Z POST/2→MILL 3 dB",
		"2026-03-02T14:21:00Z SUMMIT→MILL 3 dB",
	))
	if l.ProblemCount != 0 {
		t.Error(problems(l))
	}
}

func TestObjectProblems(t *testing.T) {
	const rest = `"receiver":"MILL","sender":"HARBOR","snr_db":-9}`
	const not = "not an object in braces: "
	for _, c := range []struct{ text, want string }{
		{`{"time":"noon",` + rest, `1:10 time "noon" not a time`},
		{`{"time":true,` + rest, `1:9 time "true" neither a number nor a text`},
		{`{"time":[1,{"a":[]}],` + rest, `1:9 time "[1,{\"a\":[]}]" neither a number nor a text`},
		{`{` + rest, `1:0 time "" missing`},
		{`{"time":null,` + rest, `1:9 time "" empty`},
		{`{"time":-5,` + rest, `1:9 time "-5" not a time`},
		{`{"time":1,"time":2,` + rest, `1:12  "time\":2,\"receiver\":\"MILL\",\"sender\":\"HARB…" ` + not + "the key time is there twice"},
		{`{"time":1 ` + rest, `1:11  "\"receiver\":\"MILL\",\"sender\":\"HARBOR\",\"snr…" ` + not + "a comma or a closing brace is missing"},
		{`{"time":1,,` + rest, `1:11  ",\"receiver\":\"MILL\",\"sender\":\"HARBOR\",\"sn…" ` + not + "a key in quotes is missing"},
		{`{"time":,` + rest, `1:9  ",\"receiver\":\"MILL\",\"sender\":\"HARBOR\",\"sn…" ` + not + "a value is missing"},
		{`{"time" 1,` + rest, `1:9  "1,\"receiver\":\"MILL\",\"sender\":\"HARBOR\",\"s…" ` + not + "a colon is missing after the key"},
		{`{"time":1,` + rest + `,`, `1:59  "," ` + not + "more text after the closing brace"},
		{`{"time":1,"receiver":"MILL`, `1:27  "" ` + not + "a quote is not closed"},
		{`{"time":1,"receiver":"MI\qLL"}`, `1:25  "\\qLL\"}" ` + not + "an unknown escape in a text"},
		{`{"time":1,"receiver":"MI` + "\t" + `LL"}`, `1:25  "\tLL\"}" ` + not + "a control character in a text"},
		{`{"time":01,` + rest, `1:10  "1,\"receiver\":\"MILL\",\"sender\":\"HARBOR\",\"s…" ` + not + "a comma or a closing brace is missing"},
		{`{"x":` + strings.Repeat("[", 300), `1:206  "[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[…" ` + not + "nested too deep"},
		{`{`, `1:2  "" ` + not + "a key in quotes is missing"},
	} {
		l := readText(t, c.text+"\n")
		var got []string
		for _, p := range l.Problems {
			if !p.Warning {
				got = append(got, fmt.Sprintf("%d:%d %s \"%s\" %s", p.Line, p.Column, p.Field, strings.ReplaceAll(p.Value, `"`, `\"`), p.Message))
			}
		}
		want := strings.ReplaceAll(c.want, `\\q`, `\q`)
		if strings.Join(got, "\n") != want || l.Counts != (Counts{Read: 1, Rejected: 1}) {
			t.Errorf("%s: %+v\n%s\nwant\n%s", c.text, l.Counts, strings.Join(got, "\n"), want)
		}
	}
}

func TestUnknownKeysAreToldOnce(t *testing.T) {
	row := `{"time":1,"receiver":"MILL","sender":"HARBOR","snr_db":-9,"frequenzy_hz":{"a":"\u00e9\\"},"b":2}` + "\n"
	l := readWith(t, Options{}, strings.Repeat(row, 5000), row)
	if len(l.Reports) != 5001 || l.ProblemCount != 2 || l.Problems[0].Source != "text 1" || l.Problems[1].Source != "text 2" ||
		l.Problems[0].Value != "frequenzy_hz" || !strings.Contains(l.Problems[0].Mend, "frequency_hz") || l.Problems[0].Column != 60 {
		t.Errorf("%d reports, %+v", len(l.Reports), l.Problems)
	}
}

func TestListInBrackets(t *testing.T) {
	l := readText(t, lines(`[`, `{"time":1,"receiver":"MILL","sender":"HARBOR","snr_db":-9},`, `{"time":1,"receiver":"MILL","sender":"HARBOR","snr_db":-9}`, `]`))
	if l.Counts.Rejected != 3 || len(l.Reports) != 1 || !strings.Contains(l.Problems[0].Message, "brackets") || l.ProblemCount != 2 {
		t.Errorf("%+v\n%s", l.Counts, problems(l))
	}
}

// agreesWithJSON is what the scanner promises: on one line it takes for an
// object what the standard library does, but for keys of ours given twice and
// values nested deeper than maxDepth, and has the same texts and numbers.
func agreesWithJSON(text string) error {
	if strings.ContainsAny(text, "\r\n") || !strings.HasPrefix(text, "{") {
		return nil
	}
	p := newParser(usualLimits, allTimes(refuseUndated), 1000)
	p.data, p.raw, p.out = []byte(text), []byte(text), &batch{}
	s := objectScanner{p: p, text: p.data}
	ok := s.object()
	if strings.Contains(s.wrong, "twice") || strings.Contains(s.wrong, "deep") {
		return nil
	}
	var all map[string]json.RawMessage
	err := json.Unmarshal([]byte(text), &all)
	if ok != (err == nil) {
		return fmt.Errorf("%q: %v (%s), but json has %v", text, ok, s.wrong, err)
	}
	if !ok {
		return nil
	}
	for c, name := range columnNames {
		var v any
		for key, raw := range all {
			if strings.EqualFold(key, name) {
				d := json.NewDecoder(strings.NewReader(string(raw)))
				d.UseNumber()
				if err := d.Decode(&v); err != nil {
					return err
				}
			}
		}
		want := ""
		switch x := v.(type) {
		case string:
			want = x
		case json.Number:
			want = x.String()
		}
		if trimmed, _ := trim([]byte(want)); string(p.row[c].text) != string(trimmed) && !strings.Contains(want, "\ufffd") {
			return fmt.Errorf("%q: %s is %q, not %q", text, name, p.row[c].text, trimmed)
		}
	}
	return nil
}

func TestObjectsAgreeWithJSON(t *testing.T) {
	value := rapid.OneOf(
		rapid.SampledFrom([]string{`null`, `true`, `[]`, `{}`, `[1,"a",{"b":[null]}]`, `"\ud83d\ude00"`, `"\ud83d"`, `"\ud83dx\u0041"`, `nul`, `-`, `1.`, `"a\\\"b"`, `""`}),
		rapid.StringMatching(`-?(0|[1-9][0-9]{0,4})(\.[0-9]{1,3})?([eE][-+]?[0-9]{1,2})?`),
		rapid.Map(rapid.String(), func(s string) string { b, _ := json.Marshal(s); return string(b) }),
	)
	key := rapid.OneOf(rapid.SampledFrom(columnNames[:]), rapid.SampledFrom([]string{"x", "", "Time ", "a\\nb", `snr\u005fdb`}))
	rapid.Check(t, func(t *rapid.T) {
		var members []string
		for _, k := range rapid.SliceOfNDistinct(key, 0, 6, rapid.ID).Draw(t, "keys") {
			members = append(members, `"`+k+`":`+value.Draw(t, "value"))
		}
		text := []byte("{" + strings.Join(members, ",") + "}")
		if rapid.IntRange(0, 2).Draw(t, "spoil") == 0 {
			text[rapid.IntRange(0, len(text)-1).Draw(t, "at")] = rapid.SampledFrom([]byte(` {}[],:"\0a.`)).Draw(t, "by")
		}
		if err := agreesWithJSON(string(text)); err != nil {
			t.Fatal(err)
		}
	})
}

func FuzzObject(f *testing.F) {
	f.Add(`{"time":"2026-03-02T14:20:00Z","receiver":"MILL","sender":"H\u0041RBOR","snr_db":-9.5e0,"x":[{},null]}`)
	f.Add(`{"power_w":"\ud83d\ude00\\","a":-0.0}`)
	f.Add(`{"a":}`)
	f.Fuzz(func(t *testing.T, text string) {
		if err := agreesWithJSON(text); err != nil {
			t.Fatal(err)
		}
	})
}
