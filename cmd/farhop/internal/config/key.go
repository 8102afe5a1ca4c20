package config

import (
	"cmp"
	"strings"

	"gopkg.in/yaml.v3"
)

// Key describes one key of the plan in words. The same table that decodes a
// plan holds these, so what they say is what is accepted.
type Key struct {
	Name        string
	Type        string // what it holds: "duration", "number", "list of windows", "settings" …
	Unit        string // "W", "dB" …, "" when it has none
	Allowed     string // range or words, "" when anything goes
	Default     string // value as it would be written, "" when there is none
	DefaultNote string // default in words, where no value says it
	Help        string // one or two plain sentences
	Sample      string // a value for the starter plan, as it would be written
	Required    bool
	Keys        []Key // keys below this one
}

// Expectation says in words what the key takes, without its name.
func (k Key) Expectation() string {
	s := k.Type
	if k.Unit != "" {
		s += " in " + k.Unit
	}
	if k.Allowed != "" {
		s += ", " + k.Allowed
	}
	return s
}

// one is the expectation with its article.
func (k Key) one() string {
	if k.Type == "settings" {
		return k.Type
	}
	return "a " + k.Expectation()
}

// Fallback says in words what holds when the key is left out.
func (k Key) Fallback() string {
	switch {
	case k.Required:
		return "required"
	case k.DefaultNote != "":
		return "if left out: " + k.DefaultNote
	case k.Default != "":
		return "default " + k.Default
	}
	return "may be left out"
}

// field is one key of a mapping that is decoded into a T.
type field[T any] struct {
	Key
	// read decodes a node into its place and reports whether it was sound.
	read func(d *decoder, n *yaml.Node, path string, into *T) bool
	// write returns the value as YAML; nil where it is never written.
	write func(from *T) string
	// scalar says that a bad value is replaced by the default or the sample,
	// so that one mistake is not reported a second time by later checks.
	scalar bool
}

// table is the keys of one mapping, in the order they are decoded, explained
// and written.
type table[T any] struct {
	fields []field[T]
	// check looks at several keys together, given those that were present.
	check func(d *decoder, g given, path string, into *T) bool
}

// given is the keys of one mapping that were present, by name, with the
// mapping's own node.
type given struct {
	node *yaml.Node
	keys map[string]*yaml.Node // nil when the node is no mapping
}

func (g given) has(name string) bool { return g.keys[name] != nil }

// keys lists the descriptions of a table.
func (t table[T]) keys() []Key {
	out := make([]Key, len(t.fields))
	for i, f := range t.fields {
		out[i] = f.Key
	}
	return out
}

func (t table[T]) names() []string {
	out := make([]string, len(t.fields))
	for i, f := range t.fields {
		out[i] = f.Name
	}
	return out
}

// read decodes a mapping into a value that holds its defaults already or gets
// them from the table. It reports whether all of it was sound.
func (t table[T]) read(d *decoder, n *yaml.Node, path string, into *T) bool {
	g, sound := d.mapping(n, path, t.names())
	if g.keys == nil {
		for i := range t.fields {
			t.fields[i].standIn(d, into)
		}
		g.keys = map[string]*yaml.Node{}
	} else {
		sound = t.readKeys(d, g, path, into) && sound
	}
	if t.check != nil && !t.check(d, g, path, into) {
		sound = false
	}
	return sound
}

// readKeys decodes the keys of a mapping in the order of the table.
func (t table[T]) readKeys(d *decoder, g given, path string, into *T) bool {
	sound := true
	for i := range t.fields {
		f := &t.fields[i]
		at := join(path, f.Name)
		if v := g.keys[f.Name]; v != nil {
			if !f.read(d, v, at, into) {
				sound = false
				f.standIn(d, into)
			}
			continue
		}
		if f.Required {
			sound = false
			d.problem(Problem{
				Path: at, Message: missing, Mend: "add " + f.Name + ": with " + f.one(),
			}, g.node)
			f.standIn(d, into)
		} else if f.Default != "" {
			d.quietly(func() { f.read(d, scalarNode(f.Default), at, into) })
		}
	}
	return sound
}

// standIn puts the default, else the sample, in the place of a bad value.
func (f *field[T]) standIn(d *decoder, into *T) {
	if v := cmp.Or(f.Default, f.Sample); f.scalar && v != "" {
		d.quietly(func() { f.read(d, scalarNode(v), "", into) })
	}
}

func scalarNode(value string) *yaml.Node {
	return &yaml.Node{Kind: yaml.ScalarNode, Value: value}
}

// join appends a key to a path.
func join(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}

// oneOf lists words as "a, b or c".
func oneOf(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	last := len(words) - 1
	return strings.Join(words[:last], ", ") + " or " + words[last]
}
