package config

import (
	"bytes"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"

	"gopkg.in/yaml.v3"
)

// section is the lines of a plan from one outermost key to the next.
type section struct {
	key   string // "" for what stands before the first key
	first int    // line it begins on, from 1
	lines [][]byte
}

var sectionStart = lazily(`^([A-Za-z_][A-Za-z0-9_]*):(\s|$)`)

// salvage is called when the YAML of a plan is faulty. Since a parser stops at
// its first fault, every section of the plan is parsed by itself: each faulty
// one is reported and noted as broken, the sound ones are returned.
func (d *decoder) salvage(data []byte, whole error) *yaml.Node {
	root := &yaml.Node{Kind: yaml.MappingNode, Tag: "!!map", Line: 1, Column: 1}
	budget := 2 * MaxPlanBytes
	for _, s := range sections(data) {
		n, err := s.parse(len(s.lines))
		switch {
		case err == nil && n != nil && n.Kind == yaml.MappingNode:
			root.Content = append(root.Content, n.Content...)
		case err != nil && !isAnchorError(err):
			d.broken[s.key] = true
			d.syntax(s, err, &budget)
		case err != nil:
			d.broken[s.key] = true
		}
	}
	if len(d.problems) == 0 {
		d.broken[""] = true
		all := section{first: 1, lines: bytes.SplitAfter(bytes.TrimRight(data, " \r\n"), []byte("\n"))}
		d.syntax(all, whole, &budget)
	}
	return root
}

func isAnchorError(err error) bool { return strings.Contains(err.Error(), "unknown anchor") }

// sections splits a text at its outermost keys.
func sections(data []byte) []section {
	out := []section{{first: 1}}
	for i, line := range bytes.SplitAfter(data, []byte("\n")) {
		if m := sectionStart().FindSubmatch(line); m != nil {
			out = append(out, section{key: string(m[1]), first: i + 1})
		}
		last := &out[len(out)-1]
		last.lines = append(last.lines, line)
	}
	for i := range out {
		s := &out[i]
		for len(s.lines) > 0 && len(bytes.TrimSpace(s.lines[len(s.lines)-1])) == 0 {
			s.lines = s.lines[:len(s.lines)-1]
		}
	}
	return slices.DeleteFunc(out, func(s section) bool { return len(s.lines) == 0 })
}

// parse parses the first lines of a section. So many empty lines stand before
// them that they keep their line numbers, and one more, since the parser leaves the
// number out of errors on the first line of a text: the line in an error is
// one too high, those in the nodes are put right.
func (s section) parse(lines int) (*yaml.Node, error) {
	text := bytes.Repeat([]byte("\n"), s.first)
	n, err := parseDocument(append(text, bytes.Join(s.lines[:lines], nil)...))
	if n != nil && lines == len(s.lines) {
		raise(n)
	}
	return n, err
}

// raise moves a tree one line up.
func raise(n *yaml.Node) {
	n.Line--
	for _, c := range n.Content {
		raise(c)
	}
}

// size is the bytes that parsing the section takes in.
func (s section) size() int {
	n := s.first
	for _, line := range s.lines {
		n += len(line)
	}
	return n
}

// syntax reports a fault of the YAML in a section, on the line where it begins:
// the one after the longest run of lines that is sound, or the one the parser
// names where that is later. A parser alone often names the beginning of the list
// the fault lies in. Where the search would cost more than the budget, in bytes,
// the parser's word is taken.
func (d *decoder) syntax(s section, err error, budget *int) {
	named := max(reportedLine(err)-s.first+1, 1)
	at := min(named, len(s.lines))
	if cost := s.size() * len(s.lines); cost <= *budget {
		*budget -= cost
		at = s.longestSound() + 1
		if named <= len(s.lines) { // else the parser only says that the text ends too soon
			at = max(at, named)
		}
	}
	line := strings.TrimRight(string(s.lines[at-1]), "\r\n")
	message, mend := adviseSyntax(err.Error(), line)
	column := len(line) - len(strings.TrimLeft(line, " ")) + 1
	d.problem(Problem{
		Path: s.key, Value: shorten(strings.TrimSpace(line)), Message: message, Mend: mend,
	}, &yaml.Node{Line: s.first + at - 1, Column: column})
}

// longestSound is how many of the first lines of a faulty section are sound,
// less than all of them.
func (s section) longestSound() int {
	for k := len(s.lines) - 1; k > 0; k-- {
		if _, err := s.parse(k); err == nil {
			return k
		}
	}
	return 0
}

var lineFirst = lazily(`^line \d+: `)

// lazily compiles a form when it is first asked for: most runs need none of them.
func lazily(form string) func() *regexp.Regexp {
	return sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(form) })
}

var lineInError = lazily(`^yaml: line (\d+): (did not find expected)?`)

// reportedLine is the line a parser's error names, 0 if none. In a text with one
// line put before it the parser counts right where it missed something, and one
// too many otherwise.
func reportedLine(err error) int {
	m := lineInError().FindStringSubmatch(err.Error())
	if m == nil {
		return 0
	}
	n, _ := strconv.Atoi(m[1])
	if m[2] == "" {
		n--
	}
	return n
}

// adviseSyntax says in plain words what the parser found.
func adviseSyntax(fault, line string) (message, mend string) {
	fault = strings.TrimPrefix(fault, "yaml: ")
	fault = lineFirst().ReplaceAllString(fault, "")
	message = "the YAML can't be read here (" + fault + ")"
	indent := line[:len(line)-len(strings.TrimLeft(line, " \t"))]
	for _, c := range []struct {
		when bool
		mend string
	}{
		{strings.Contains(indent, "\t"), "a tab indents this line; use spaces"},
		{strings.Contains(fault, "unknown anchor"), "an alias (*name) needs an anchor (&name) before it"},
		{strings.Contains(fault, "max depth"), "it nests too deep for a plan; is it the right file?"},
		{strings.Contains(fault, "cannot start any token"), "put text that begins with @, `, % or a tab in double quotes"},
		{strings.Contains(fault, "mapping values are not allowed"), "a key stands too far right, or a text that holds ': ' needs double quotes"},
		{strings.Contains(fault, "find expected key"), "its indentation does not fit the lines above"},
		{strings.Contains(fault, "'-' indicator"), "its indentation does not fit the lines above: each entry of a list begins with - in the same column"},
		{strings.Contains(fault, "could not find expected ':'"), "a key is followed by a colon and a space"},
		{strings.Contains(fault, "document start"), "a plan is one document: remove the line with ... above"},
		{strings.Contains(fault, "node content"), "a bracket is not closed, or a value is missing"},
		{strings.Contains(fault, "',' or"), "a bracket is not closed, or a comma is missing"},
		{strings.Contains(fault, "end of stream"), "a quote is not closed"},
	} {
		if c.when {
			return message, c.mend
		}
	}
	return message, "look at quotes, brackets, colons and indentation on this line and the one above"
}
