// Package config reads a plan, written in YAML, into a mesh.Net: strictly, with
// every problem located and all of them at once. One table of keys serves the
// decoding, the messages, the commented starter plan and the reference; a draft
// of a plan is made from a log of reports.
package config

import (
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"

	"farhop/mesh"
	"farhop/mesh/link"
)

// Load reads a plan. The net is prepared for use, and nil exactly when Failed
// says so of the problems, which come in the order of the file. The name stands
// for the plan in them.
//
// A plan is one YAML document of at most MaxPlanBytes. Unknown and repeated
// keys, values of the wrong kind or out of range, and references to nothing are
// problems; anchors, aliases and merged settings (<<) mean what they repeat. It
// never panics, and its time is linear in the size of the plan with aliases
// written out, up to a limit.
func Load(name string, data []byte) (*mesh.Net, []Problem) {
	d := newDecoder(name, len(data))
	d.known = Keys()
	net := &mesh.Net{
		Slots: mesh.DefaultSlots(), Link: link.Defaults(), CommonDB: mesh.DefaultCommonDB, Evidence: mesh.DefaultEvidence(),
		Limits: mesh.DefaultLimits(),
	}
	if root := d.parse(data); root != nil {
		planTable.read(d, root, "", net)
		d.forgetBroken()
		if len(d.broken) == 0 {
			d.prepare(net)
		}
	}
	sortProblems(d.problems)
	if d.left > 0 {
		d.problems = append(d.problems, Problem{
			Source: name, Message: fmt.Sprintf("%d more problems are not listed", d.left), Mend: "mend these first",
		})
	}
	if Failed(d.problems) {
		return nil, d.problems
	}
	return net, d.problems
}

// LoadFile reads a plan from a file. The error is one of reading it.
func LoadFile(path string) (*mesh.Net, []Problem, error) {
	data, err := readFile(path)
	if err != nil {
		return nil, nil, err
	}
	net, problems := Load(path, data)
	return net, problems, nil
}

// readFile reads a file up to the first byte that makes it too large to be taken.
func readFile(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, MaxPlanBytes+1))
}

// forgetBroken drops what was said of sections that are missing only because
// their YAML could not be read.
func (d *decoder) forgetBroken() {
	if len(d.broken) == 0 {
		return
	}
	kept := d.problems[:0]
	for _, p := range d.problems {
		if !(p.Message == missing && (d.broken[p.Path] || d.broken[""])) {
			kept = append(kept, p)
		}
	}
	d.problems = kept
}

// missing is the message about a required key that is not there.
const missing = "is missing"

// prepare has the net check itself and locates what it finds. What follows from
// a problem that was already reported is left out.
func (d *decoder) prepare(net *mesh.Net) {
	bad := map[string]bool{} // paths with problems, and all paths above them
	own := map[string]bool{} // paths with problems
	for _, p := range d.problems {
		if p.Warning {
			continue
		}
		own[p.Path] = true
		for at := p.Path; at != ""; at = parent(at) {
			bad[at] = true
		}
	}
	if own[""] {
		return
	}
	for _, issue := range net.Prepare() {
		path := d.written(issue.Path)
		if bad[path] || follows(own, path) {
			continue
		}
		at := path
		for d.nodes[at] == nil && at != "" {
			at = parent(at)
		}
		p := Problem{Path: path, Message: issue.Message}
		if n := d.nodes[path]; n != nil {
			p.Value = shorten(n.Value)
		}
		d.problem(p, d.nodes[at])
	}
}

// dependsOn names the sibling on which the check of a key rests.
var dependsOn = map[string]string{"keyed": "length", "max_power_w": "power_w", "deadline": "ready", "after": "every"}

var soundingOf = lazily(`^(stations\[\d+\])\.soundings\[\d+\]\.(channel|every)$`)

// follows reports whether an issue at a path may come of a problem elsewhere.
func follows(own map[string]bool, path string) bool {
	for at := path; at != ""; at = parent(at) {
		if own[at] {
			return true
		}
	}
	if own["slots.length"] && strings.HasPrefix(path, "slots.") {
		return true
	}
	if on := dependsOn[path[strings.LastIndexByte(path, '.')+1:]]; on != "" && own[join(parent(path), on)] {
		return true
	}
	m := soundingOf().FindStringSubmatch(path)
	if m == nil {
		return false
	}
	if m[2] == "every" {
		return own["slots.length"]
	}
	for bad := range own {
		if strings.HasPrefix(bad, m[1]+".channels") {
			return true
		}
	}
	return false
}

// parent is the path one level up, "" at the top: a[2].b → a[2] → a.
func parent(path string) string {
	if i := strings.LastIndexAny(path, ".["); i >= 0 {
		return path[:i]
	}
	return ""
}

var indexForm = lazily(`\[\d+\]`)

// written turns the indexes of a path in the net, where unsound entries were
// left out, into those of the plan as it is written.
func (d *decoder) written(path string) string {
	var b strings.Builder
	rest := path
	for {
		m := indexForm().FindStringIndex(rest)
		if m == nil {
			b.WriteString(rest)
			return b.String()
		}
		b.WriteString(rest[:m[0]])
		i, _ := strconv.Atoi(rest[m[0]+1 : m[1]-1])
		if kept := d.kept[b.String()]; i < len(kept) {
			i = kept[i]
		}
		fmt.Fprintf(&b, "[%d]", i)
		rest = rest[m[1]:]
	}
}
