package aysen

import (
	"bytes"
	_ "embed"
	"strconv"
	"strings"
	"text/template"
	"time"

	"farhop/mesh"
)

//go:embed plan.tmpl
var planText string

var planTemplate = template.Must(template.New("plan").Funcs(template.FuncMap{
	"duration": shortDuration,
	"watts":    func(w float64) string { return strconv.FormatFloat(w, 'g', -1, 64) },
	"list":     func(items []string) string { return "[" + strings.Join(items, ", ") + "]" },
	"quoted":   quoted,
	"numbers":  numbers,
	"moment":   func(t time.Time) string { return strconv.Quote(t.UTC().Format(time.RFC3339)) },
	"always":   func(windows []string) bool { return len(windows) == 1 && windows[0] == "00:00-24:00" },
	"heard":    func(w mesh.Watch) bool { return w == mesh.WatchHeard },
}).Parse(planText))

// Plan returns the plan file, commented, in YAML.
func (s *Scenario) Plan() ([]byte, error) {
	var out bytes.Buffer
	err := planTemplate.Execute(&out, s)
	return out.Bytes(), err
}

// ChannelNames gives the names of channels by index, in the order given.
func (s *Scenario) ChannelNames(channels []int) []string {
	names := make([]string, len(channels))
	for i, c := range channels {
		names[i] = s.Channels[c].Name
	}
	return names
}

// shortDuration writes a duration as the plan does: 40s, 7m, 1h30m.
func shortDuration(d time.Duration) string {
	if d == 0 {
		return "0m"
	}
	text := d.String()
	for _, tail := range []string{"m0s", "h0m"} {
		if strings.HasSuffix(text, tail) {
			text = text[:len(text)-2]
		}
	}
	return text
}

func quoted(items []string) string {
	out := make([]string, len(items))
	for i, item := range items {
		out[i] = strconv.Quote(item)
	}
	return "[" + strings.Join(out, ", ") + "]"
}

func numbers(items []int) string {
	out := make([]string, len(items))
	for i, item := range items {
		out[i] = strconv.Itoa(item)
	}
	return "[" + strings.Join(out, ", ") + "]"
}
