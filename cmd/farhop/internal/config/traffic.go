package config

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"strings"

	"gopkg.in/yaml.v3"

	"farhop/mesh"
)

// trafficFile is a file that holds the key traffic and nothing else.
var trafficFile = table[mesh.Net]{fields: []field[mesh.Net]{
	entries(Key{Name: "traffic", Required: true, Help: "The messages that wait to be sent."}, trafficTable, true,
		func(n *mesh.Net) *[]mesh.Message { return &n.Traffic }),
}}

// LoadTraffic reads a list of messages for a prepared net, which stays as it is. The
// list is CSV with a header of the keys that messages have in a plan (an empty
// cell leaves a key out), or YAML: a list of messages, or one under the key traffic.
// Problems come back as Load has them; the list is nil exactly when Failed says so
// of them.
func LoadTraffic(name string, data []byte, net *mesh.Net) ([]mesh.Message, []Problem) {
	d := newDecoder(name, len(data))
	d.known = trafficFile.keys()
	d.know(net)
	into := net.Clone()
	into.Traffic = nil
	if root := d.trafficRoot(data); root != nil {
		trafficFile.read(d, root, "", into)
		d.prepare(into)
	}
	sortProblems(d.problems)
	if Failed(d.problems) {
		return nil, d.problems
	}
	if into.Traffic == nil {
		into.Traffic = []mesh.Message{}
	}
	return into.Traffic, d.problems
}

// LoadTrafficFile reads a list of messages from a file. The error is one of
// reading it.
func LoadTrafficFile(path string, net *mesh.Net) ([]mesh.Message, []Problem, error) {
	data, err := readFile(path)
	if err != nil {
		return nil, nil, err
	}
	list, problems := LoadTraffic(path, data, net)
	return list, problems, nil
}

// know takes over the names of a prepared net.
func (d *decoder) know(net *mesh.Net) {
	for i := range net.Channels {
		d.channels = append(d.channels, net.Channels[i].Name)
	}
	for i := range net.Stations {
		s := &net.Stations[i]
		d.calls = append(d.calls, s.Call)
		for _, name := range append([]string{s.Call, s.Licensed}, s.Also...) {
			if _, taken := d.stations[strings.ToUpper(name)]; !taken && name != "" {
				d.stations[strings.ToUpper(name)] = i
			}
		}
	}
}

// blank reports whether a file holds nothing but comments.
func blank(data []byte) bool {
	for line := range bytes.Lines(data) {
		if line = bytes.TrimSpace(line); len(line) > 0 && line[0] != '#' {
			return false
		}
	}
	return true
}

// trafficRoot brings a traffic list into the form of a plan.
func (d *decoder) trafficRoot(data []byte) *yaml.Node {
	if isTable(data) {
		if len(data) > MaxPlanBytes {
			d.problem(Problem{Message: fmt.Sprintf("is too large: more than %d bytes", MaxPlanBytes)}, nil)
			return nil
		}
		if !d.readable(data) {
			return nil
		}
		return under("traffic", d.rows(data))
	}
	if blank(data) {
		d.problem(Problem{Message: "the list is empty", Mend: "name messages as the plan does under traffic: 'farhop plan-keys traffic'"}, nil)
		return nil
	}
	root := d.parse(data)
	if root != nil && root.Kind == yaml.SequenceNode {
		root = under("traffic", root)
	}
	return root
}

// under is a mapping with one key.
func under(key string, n *yaml.Node) *yaml.Node {
	if n == nil {
		return nil
	}
	return &yaml.Node{
		Kind: yaml.MappingNode, Tag: "!!map", Line: 1, Column: 1,
		Content: []*yaml.Node{textNode(key, 1, 1), n},
	}
}

func textNode(value string, line, column int) *yaml.Node {
	return &yaml.Node{Kind: yaml.ScalarNode, Tag: "!!str", Value: value, Line: line, Column: column}
}

// isTable reports whether a text is CSV: whether its first line names the
// columns from and to.
func isTable(data []byte) bool {
	line, _, _ := bytes.Cut(bytes.TrimPrefix(data, []byte("\ufeff")), []byte("\n"))
	from, to := false, false
	for cell := range strings.SplitSeq(string(line), ",") {
		switch strings.Trim(strings.TrimSpace(cell), `"`) {
		case "from":
			from = true
		case "to":
			to = true
		}
	}
	return from && to
}

// rows turns CSV into the nodes of a list, each with its place.
func (d *decoder) rows(data []byte) *yaml.Node {
	r := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(data, []byte("\ufeff"))))
	r.FieldsPerRecord = -1
	r.TrimLeadingSpace = true
	head, err := r.Read()
	list := &yaml.Node{Kind: yaml.SequenceNode, Tag: "!!seq", Line: 1, Column: 1}
	for err == nil {
		var row []string
		row, err = r.Read()
		if err != nil {
			break
		}
		line, _ := r.FieldPos(0)
		item := &yaml.Node{Kind: yaml.MappingNode, Tag: "!!map", Line: line, Column: 1}
		if len(row) > len(head) {
			d.problem(Problem{
				Path: index("traffic", len(list.Content)), Message: fmt.Sprintf("has %d cells under %d columns", len(row), len(head)),
				Mend: "put cells that hold a comma between double quotes",
			}, item)
			row = row[:len(head)]
		}
		for i, cell := range row {
			if cell = strings.TrimSpace(cell); cell != "" {
				at, column := r.FieldPos(i)
				item.Content = append(item.Content, textNode(strings.TrimSpace(head[i]), at, column), textNode(cell, at, column))
			}
		}
		list.Content = append(list.Content, item)
	}
	var bad *csv.ParseError
	if errors.As(err, &bad) {
		d.problem(Problem{Message: "is no CSV: " + bad.Err.Error(), Mend: "close every double quote"},
			&yaml.Node{Line: bad.Line, Column: bad.Column})
		return nil
	}
	return list
}
