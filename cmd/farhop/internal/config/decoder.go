package config

import (
	"fmt"
	"slices"
	"strings"

	"gopkg.in/yaml.v3"
)

// maxVisits is how many values a plan may hold, each counted as often as
// aliases repeat it. A net of 5,000 fully described stations has fewer.
const maxVisits = 200_000

// valueBytes is about how much of a plan one value takes.
const valueBytes = 16

// decoder holds what reading one plan gathers.
type decoder struct {
	source   string
	problems []Problem
	left     int // problems beyond maxProblems
	visits   int
	nodes    map[string]*yaml.Node // by path
	said     map[saying]bool
	quiet    bool
	known    []Key // all keys of the plan, for keys that stand in the wrong place

	channels []string         // names in plan order
	calls    []string         // planning names in plan order
	stations map[string]int   // index by every name a station has, in upper case
	kept     map[string][]int // by path of a list: where its kept entries stood
	broken   map[string]bool  // outermost keys whose YAML could not be read, "" for the whole plan
}

// saying is one message about one key of a node; repeating the node by an alias
// does not repeat the message.
type saying struct {
	node         *yaml.Node
	key, message string
}

// newDecoder is for a plan of so many bytes.
func newDecoder(source string, size int) *decoder {
	return &decoder{
		source: source, nodes: make(map[string]*yaml.Node, min(size/valueBytes, maxVisits)), said: map[saying]bool{},
		stations: map[string]int{}, kept: map[string][]int{}, broken: map[string]bool{},
	}
}

// quietly runs a reading of the table's own values, of which no problem and no
// place in the plan is kept.
func (d *decoder) quietly(read func()) {
	was := d.quiet
	d.quiet = true
	read()
	d.quiet = was
}

// problem adds a problem at a node, which may be nil.
func (d *decoder) problem(p Problem, n *yaml.Node) {
	if d.quiet {
		return
	}
	if n != nil {
		s := saying{n, p.Path[strings.LastIndexAny(p.Path, ".]")+1:], p.Message}
		if d.said[s] {
			return
		}
		d.said[s] = true
		p.Line, p.Column = n.Line, n.Column
	}
	p.Source = d.source
	if len(d.problems) >= maxProblems {
		d.left++
		return
	}
	d.problems = append(d.problems, p)
}

// wrong reports that a value can't be used.
func (d *decoder) wrong(n *yaml.Node, path, message, mend string) bool {
	d.problem(Problem{Path: path, Value: shorten(n.Value), Message: message, Mend: mend}, n)
	return false
}

// visit follows aliases to the value they stand for, notes its path and counts
// it. It returns nil when the plan holds too many values.
func (d *decoder) visit(n *yaml.Node, path string) *yaml.Node {
	for i := 0; n.Kind == yaml.AliasNode && n.Alias != nil && i < 100; i++ {
		n = n.Alias
	}
	d.visits++
	if d.visits == maxVisits {
		d.problem(Problem{
			Message: fmt.Sprintf("holds more than %d values, aliases counted each time", maxVisits),
			Mend:    "the rest was not read; write out the parts that aliases repeat",
		}, n)
	}
	if d.visits >= maxVisits {
		return nil
	}
	if path != "" && !d.quiet {
		d.nodes[path] = n
	}
	return n
}

// mapping checks a mapping and returns its known keys. A null is an empty one.
func (d *decoder) mapping(n *yaml.Node, path string, known []string) (given, bool) {
	g := given{node: n}
	n = d.visit(n, path)
	if n == nil {
		return g, false
	}
	g.node = n
	if !isNull(n) && n.Kind != yaml.MappingNode {
		return g, d.wrong(n, path, "wants settings (key: value), has "+describe(n), "its keys are "+oneOf(known))
	}
	g.keys = map[string]*yaml.Node{}
	if isNull(n) {
		return g, true
	}
	sound := d.pairs(n, path, known, g.keys)
	return g, d.merged(n, path, known, g.keys, 0) && sound
}

// pairs fills the known keys of a mapping node and reports the others.
func (d *decoder) pairs(n *yaml.Node, path string, known []string, into map[string]*yaml.Node) bool {
	sound := true
	first := map[string]int{}
	for i := 0; i+1 < len(n.Content); i += 2 {
		k, v := n.Content[i], n.Content[i+1]
		if k.Kind == yaml.AliasNode && k.Alias != nil {
			k = k.Alias
		}
		if isMerge(k) {
			continue
		}
		if k.Kind != yaml.ScalarNode {
			sound = d.wrong(k, path, "a key must be a word, has "+describe(k), "its keys are "+oneOf(known))
			continue
		}
		at := join(path, shorten(k.Value))
		if line, ok := first[k.Value]; ok {
			sound = d.wrong(k, at, fmt.Sprintf("is given a second time, first on line %d", line), "keep one of them")
			continue
		}
		first[k.Value] = n.Content[i].Line
		if !slices.Contains(known, k.Value) {
			sound = d.wrong(k, at, "unknown key "+quoted(k.Value), d.adviseKey(k.Value, path, known))
			continue
		}
		into[k.Value] = v
	}
	return sound
}

// merged takes over the known keys of mappings that << refers to, where they
// are not given already. Unknown keys there are reported where they stand.
func (d *decoder) merged(n *yaml.Node, path string, known []string, into map[string]*yaml.Node, depth int) bool {
	sound := true
	for i := 0; i+1 < len(n.Content); i += 2 {
		if !isMerge(n.Content[i]) {
			continue
		}
		from := []*yaml.Node{n.Content[i+1]}
		if from[0].Kind == yaml.SequenceNode {
			from = from[0].Content
		}
		for _, m := range from {
			at := m
			if m = d.visit(m, ""); m == nil || depth >= maxDepth {
				return false
			}
			if m.Kind != yaml.MappingNode {
				sound = d.wrong(at, join(path, "<<"), "wants an alias of settings, has "+describe(m), "write <<: *name")
				continue
			}
			for j := 0; j+1 < len(m.Content); j += 2 {
				k := m.Content[j]
				if slices.Contains(known, k.Value) && k.Kind == yaml.ScalarNode && !isMerge(k) && into[k.Value] == nil {
					into[k.Value] = m.Content[j+1]
				}
			}
			sound = d.merged(m, path, known, into, depth+1) && sound
		}
	}
	return sound
}

// adviseKey says what to do about an unknown key.
func (d *decoder) adviseKey(key, path string, known []string) string {
	if near := nearest(key, known); near != "" {
		return "did you mean " + near + "? known here are " + oneOf(known)
	}
	if place := d.elsewhere(key); place != "" {
		return "it belongs under " + place + "; known here are " + oneOf(known)
	}
	return "known here are " + oneOf(known)
}

// elsewhere returns where in the plan a key of this name is known, "" if nowhere.
func (d *decoder) elsewhere(key string) string {
	var find func(keys []Key, path string) string
	find = func(keys []Key, path string) string {
		for _, k := range keys {
			if k.Name == key && path != "" {
				return path
			}
			if at := find(k.Keys, join(path, k.Name)); at != "" {
				return at
			}
		}
		return ""
	}
	return find(d.known, "")
}

// items returns the entries of a list; a null is an empty one.
func (d *decoder) items(n *yaml.Node, path, want string) ([]*yaml.Node, bool) {
	if n = d.visit(n, path); n == nil {
		return nil, false
	}
	switch {
	case isNull(n):
		return nil, true
	case n.Kind != yaml.SequenceNode:
		mend := "write each entry on a line of its own that begins with -"
		if n.Kind == yaml.ScalarNode {
			mend = "write [" + shorten(n.Value) + "]"
		}
		return nil, d.wrong(n, path, "wants a "+want+", has "+describe(n), mend)
	}
	return n.Content, true
}

// word returns the text of a scalar node.
func (d *decoder) word(n *yaml.Node, path, want string) (*yaml.Node, bool) {
	if n = d.visit(n, path); n == nil {
		return nil, false
	}
	if n.Kind != yaml.ScalarNode || isNull(n) {
		return n, d.wrong(n, path, "wants a "+want+", has "+describe(n), "")
	}
	return n, true
}

func isNull(n *yaml.Node) bool { return n.Kind == yaml.ScalarNode && n.ShortTag() == "!!null" }

func isMerge(k *yaml.Node) bool { return k.Kind == yaml.ScalarNode && k.ShortTag() == "!!merge" }

// describe names what a node holds.
func describe(n *yaml.Node) string {
	switch {
	case n.Kind == yaml.SequenceNode:
		return "a list"
	case n.Kind == yaml.MappingNode:
		return "settings (key: value)"
	case isNull(n):
		return "nothing"
	}
	return quoted(n.Value)
}
