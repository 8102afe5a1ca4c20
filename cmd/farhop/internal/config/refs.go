package config

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"gopkg.in/yaml.v3"

	"farhop/mesh"
)

// nonEmpty refuses a list that is given but holds nothing.
func nonEmpty[T any](f field[T]) field[T] {
	inner := f.read
	f.read = func(d *decoder, n *yaml.Node, path string, into *T) bool {
		sound := inner(d, n, path, into)
		at := d.nodes[path]
		if at == nil || !isNull(at) && (at.Kind != yaml.SequenceNode || len(at.Content) > 0) {
			return sound
		}
		mend := "list at least one"
		if !f.Required {
			mend += ", or leave the key out for " + f.DefaultNote
		}
		return d.wrong(at, path, "is empty", mend)
	}
	return f
}

// windows is a key that holds a list of windows of the day, joined.
func windows[T any](k Key, at func(*T) *mesh.Windows) field[T] {
	k.Type = "list of windows"
	k.Allowed = `each "HH:MM-HH:MM" in UTC`
	read := func(d *decoder, n *yaml.Node, path string, into *T) bool {
		nodes, sound := d.items(n, path, k.Type)
		var all mesh.Windows
		for i, e := range nodes {
			e, ok := d.word(e, index(path, i), `window "HH:MM-HH:MM"`)
			if !ok {
				sound = false
				continue
			}
			w, err := mesh.ParseWindows([]string{e.Value})
			if err != nil {
				mend := "write " + `"17:00-07:00"` + " for five in the afternoon to seven in the morning, UTC"
				sound = d.wrong(e, index(path, i), windowFault(err), mend)
				continue
			}
			all = all.Union(w)
		}
		*at(into) = all
		return sound
	}
	return nonEmpty(field[T]{Key: k, read: read})
}

// The frequencies that a plan may hold, in Hz.
const leastHz, mostHz = 30_000, 3_000_000_000

// frequency is a key that holds a frequency in Hz.
func frequency[T any](k Key, at func(*T) *uint32) field[T] {
	k.Type = "whole number"
	k.Allowed = fmt.Sprintf("%d to %d", int64(leastHz), int64(mostHz))
	read := func(d *decoder, n *yaml.Node, path string, into *T) bool {
		n, ok := d.word(n, path, k.Expectation())
		if !ok {
			return false
		}
		if hz := otherUnit(n.Value); hz != "" {
			return d.wrong(n, path, quoted(n.Value)+" is no frequency in hertz", "did you mean "+hz+"? allowed is a "+k.Expectation())
		}
		v, ok := d.whole(n, path, k, leastHz, mostHz)
		if !ok {
			return false
		}
		*at(into) = uint32(v)
		if v < 1_600_000 || v > 30_000_000 {
			d.problem(Problem{
				Path: path, Value: n.Value, Warning: true, Message: n.Value + " Hz lies outside 1.6 to 30 MHz",
				Mend: "the estimates are made for HF; check the number of digits",
			}, n)
		}
		return true
	}
	return field[T]{Key: k, read: read, scalar: true}
}

// otherUnit returns the frequency in Hz that a number written in kHz or MHz
// most likely means, "" when it looks like Hz.
func otherUnit(value string) string {
	lower := strings.ToLower(value)
	number, unit := strings.TrimRight(lower, "khzm "), 0.0
	v, err := strconv.ParseFloat(number, 64)
	switch {
	case err != nil || v <= 0 || v > 3e9:
		return ""
	case strings.HasSuffix(lower, "mhz"):
		unit = 1e6
	case strings.HasSuffix(lower, "khz"):
		unit = 1e3
	case number != lower:
		return ""
	case v < 100:
		unit = 1e6
	case v < 30_000:
		unit = 1e3
	default:
		return ""
	}
	return strconv.FormatFloat(v*unit, 'f', 0, 64)
}

func offset(d *decoder, n *yaml.Node, path string) (int, bool) {
	v, ok := d.whole(n, path, Key{Type: "whole number", Unit: "Hz", Allowed: "1 to 20000"}, 1, 20_000)
	return int(v), ok
}

// checkChannel notes the name of a channel for those who refer to it.
func checkChannel(d *decoder, _ given, _ string, c *mesh.Channel) bool {
	if c.Name == "" {
		c.Name = fmt.Sprintf("unnamed%d", len(d.channels)) // stands in after a bad or missing name
	}
	d.channels = append(d.channels, c.Name)
	return true
}

func alias(d *decoder, n *yaml.Node, path string) (string, bool) {
	v, ok := d.text(n, path, Key{Type: "name", Allowed: nameAllowed}, nameForm)
	return strings.ToUpper(v), ok
}

// role reads the name of a role. A slip of the customary one gets a warning.
func role(d *decoder, n *yaml.Node, path string) (string, bool) {
	v, ok := d.text(n, path, Key{Type: "word", Allowed: nameAllowed}, nameForm)
	if !ok {
		return "", false
	}
	v = strings.ToLower(v)
	if v != "gateway" && nearest(v, []string{"gateway"}) != "" {
		d.problem(Problem{
			Path: path, Value: v, Warning: true, Message: quoted(v) + " is a role of its own", Mend: "did you mean gateway?",
		}, d.nodes[path])
	}
	return v, true
}

// channel reads the name of a channel of the plan. When the plan has no
// channels it fails silently, since that is reported already.
func (d *decoder) channel(n *yaml.Node, path string) (int, bool) {
	n, ok := d.word(n, path, "channel name")
	if !ok || len(d.channels) == 0 {
		return 0, false
	}
	for i, name := range d.channels {
		if strings.EqualFold(name, n.Value) {
			return i, true
		}
	}
	return 0, d.wrong(n, path, "the plan has no channel "+quoted(n.Value), adviseName(n.Value, d.channels))
}

func channelKey[T any](k Key, at func(*T) *int) field[T] {
	k.Type = "channel name"
	return reference(k, (*decoder).channel, at)
}

// station reads any name of a station of the plan. When the plan has no
// stations it fails silently, since that is reported already.
func (d *decoder) station(n *yaml.Node, path string) (int, bool) {
	n, ok := d.word(n, path, "station")
	if !ok || len(d.calls) == 0 {
		return 0, false
	}
	if i, ok := d.stations[strings.ToUpper(n.Value)]; ok {
		return i, true
	}
	return 0, d.wrong(n, path, "the plan has no station "+quoted(n.Value), adviseName(n.Value, d.calls))
}

func stationKey[T any](k Key, at func(*T) *int) field[T] {
	k.Type = "station"
	return reference(k, (*decoder).station, at)
}

// destinationKey is a key that holds a station or every-member, which is −1.
func destinationKey[T any](k Key, at func(*T) *int) field[T] {
	k.Type = "station or " + everyMember
	return reference(k, func(d *decoder, n *yaml.Node, path string) (int, bool) {
		n, ok := d.word(n, path, k.Type)
		if !ok {
			return 0, false
		}
		if strings.EqualFold(n.Value, everyMember) {
			return -1, true
		}
		if near := nearest(n.Value, append([]string{everyMember}, d.calls...)); near == everyMember {
			return 0, d.wrong(n, path, "the plan has no station "+quoted(n.Value), "did you mean "+everyMember+"?")
		}
		return d.station(n, path)
	}, at)
}

func reference[T any](k Key, find func(*decoder, *yaml.Node, string) (int, bool), at func(*T) *int) field[T] {
	read := func(d *decoder, n *yaml.Node, path string, into *T) bool {
		v, ok := find(d, n, path)
		if ok {
			*at(into) = v
		}
		return ok
	}
	return field[T]{Key: k, read: read}
}

// adviseName names the nearest of some names, or lists them when they are few.
func adviseName(name string, known []string) string {
	if near := nearest(name, known); near != "" {
		return "did you mean " + near + "?"
	}
	if len(known) <= 12 {
		return "known are " + oneOf(known)
	}
	return fmt.Sprintf("known are %s … (%d in all)", strings.Join(known[:8], ", "), len(known))
}

// place is the number in the last brackets of a path, from 0.
func place(path string) int {
	open := strings.LastIndexByte(path, '[')
	if open < 0 {
		return 0
	}
	i, _ := strconv.Atoi(strings.TrimSuffix(path[open+1:], "]"))
	return i
}

// windowFault is what mesh says is wrong with a window.
func windowFault(err error) string {
	var p *mesh.ParseError
	if errors.As(err, &p) {
		return quoted(p.Value) + " is no window: " + p.Message
	}
	return err.Error()
}
