package config

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"gopkg.in/yaml.v3"
)

// number is a key that holds a decimal number within a range.
func number[T any](k Key, least, most float64, at func(*T) *float64) field[T] {
	k.Type = "number"
	k.Allowed = figure(least) + " to " + figure(most)
	read := func(d *decoder, n *yaml.Node, path string, into *T) bool {
		n, ok := d.word(n, path, k.Expectation())
		if !ok {
			return false
		}
		v, err := strconv.ParseFloat(n.Value, 64)
		if err != nil && !math.IsInf(v, 0) || math.IsNaN(v) || strings.ContainsAny(n.Value, "xXpP_") {
			return d.wrong(n, path, quoted(n.Value)+" is not a number", adviseNumber(n.Value, k))
		}
		if v < least || v > most {
			return d.wrong(n, path, shorten(n.Value)+" is out of range", "allowed is a "+k.Expectation())
		}
		*at(into) = v
		return true
	}
	write := func(from *T) string { return figure(*at(from)) }
	return field[T]{Key: k, read: read, write: write, scalar: true}
}

// whole is a key that holds a whole number within a range.
func whole[T any, I ~int | ~uint32](k Key, least, most int64, at func(*T) *I) field[T] {
	k.Type = "whole number"
	k.Allowed = fmt.Sprintf("%d to %d", least, most)
	read := func(d *decoder, n *yaml.Node, path string, into *T) bool {
		v, ok := d.whole(n, path, k, least, most)
		if ok {
			*at(into) = I(v)
		}
		return ok
	}
	write := func(from *T) string { return strconv.FormatInt(int64(*at(from)), 10) }
	return field[T]{Key: k, read: read, write: write, scalar: true}
}

// whole reads a whole number within a range.
func (d *decoder) whole(n *yaml.Node, path string, k Key, least, most int64) (int64, bool) {
	n, ok := d.word(n, path, k.Expectation())
	if !ok {
		return 0, false
	}
	v, err := strconv.ParseInt(n.Value, 10, 64)
	if err != nil && !isRangeError(err) {
		return 0, d.wrong(n, path, quoted(n.Value)+" is not a whole number", adviseNumber(n.Value, k))
	}
	if err != nil || v < least || v > most {
		return 0, d.wrong(n, path, shorten(n.Value)+" is out of range", "allowed is a "+k.Expectation())
	}
	return v, true
}

// adviseNumber says how to write a number, with the likely slip named.
func adviseNumber(value string, k Key) string {
	allowed := "write a " + k.Expectation()
	if bare := strings.TrimRight(value, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ µ"); bare != value {
		if _, err := strconv.ParseFloat(bare, 64); err == nil {
			return "leave the unit out: " + bare + "; " + allowed
		}
	}
	if point := strings.Replace(value, ",", ".", 1); point != value {
		if _, err := strconv.ParseFloat(point, 64); err == nil {
			return "write the fraction with a point: " + shorten(point) + "; " + allowed
		}
	}
	return allowed
}

// duration is a key that holds a length of time, a multiple of step.
func duration[T any](k Key, least, most, step time.Duration, at func(*T) *time.Duration) field[T] {
	k.Type = "duration"
	k.Allowed = span(least) + " to " + span(most)
	if step > time.Millisecond {
		k.Allowed += " in steps of " + span(step)
	}
	read := func(d *decoder, n *yaml.Node, path string, into *T) bool {
		n, ok := d.word(n, path, k.Expectation())
		if !ok {
			return false
		}
		v, ok := parseSpan(n.Value)
		if !ok {
			return d.wrong(n, path, quoted(n.Value)+" is not a duration",
				"write it like 40s, 10m, 8h or 1h30m; allowed is a "+k.Expectation())
		}
		if v < least || v > most || v%step != 0 {
			return d.wrong(n, path, shorten(n.Value)+" is not possible here", "allowed is a "+k.Expectation())
		}
		*at(into) = v
		return true
	}
	write := func(from *T) string { return span(*at(from)) }
	return field[T]{Key: k, read: read, write: write, scalar: true}
}

var (
	spanForm = lazily(`^([0-9]{1,9}(\.[0-9]{1,9})?[dhms])+$`)
	spanPart = lazily(`[0-9.]+[dhms]`)
)

// parseSpan reads a duration in days, hours, minutes and seconds. Fractions
// finer than a millisecond are rounded.
func parseSpan(s string) (time.Duration, bool) {
	if !spanForm().MatchString(s) {
		return 0, false
	}
	units := map[byte]time.Duration{'d': 24 * time.Hour, 'h': time.Hour, 'm': time.Minute, 's': time.Second}
	total := 0.0
	for _, part := range spanPart().FindAllString(s, -1) {
		v, err := strconv.ParseFloat(part[:len(part)-1], 64)
		if err != nil {
			return 0, false
		}
		total += v * float64(units[part[len(part)-1]])
	}
	if total > 290*365*24*float64(time.Hour) {
		return 0, false
	}
	return time.Duration(total).Round(time.Millisecond), true
}

// span writes a duration as a plan does: 40s, 10m, 1h30m, 61d.
func span(d time.Duration) string {
	const day = 24 * time.Hour
	if d >= 2*day && d%day == 0 {
		return strconv.FormatInt(int64(d/day), 10) + "d"
	}
	if d == 0 {
		return "0s"
	}
	var b strings.Builder
	for _, u := range []struct {
		size time.Duration
		name string
	}{{time.Hour, "h"}, {time.Minute, "m"}} {
		if d >= u.size {
			fmt.Fprintf(&b, "%d%s", d/u.size, u.name)
			d %= u.size
		}
	}
	if d > 0 {
		b.WriteString(figure(d.Seconds()) + "s")
	}
	return b.String()
}

// figure writes a number without an exponent and without needless digits.
func figure(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// moment is a key that holds a time.
func moment[T any](k Key, at func(*T) *time.Time) field[T] {
	k.Type = "time"
	k.Allowed = `RFC 3339 such as "2026-03-02T18:00:00Z"`
	read := func(d *decoder, n *yaml.Node, path string, into *T) bool {
		n, ok := d.word(n, path, k.Expectation())
		if !ok {
			return false
		}
		v, err := time.Parse(time.RFC3339, n.Value)
		if err != nil {
			return d.wrong(n, path, quoted(n.Value)+" is not a time", "write it by "+k.Allowed)
		}
		*at(into) = v.UTC()
		return true
	}
	return field[T]{Key: k, read: read}
}

// text is a key that holds a text. The form, if not nil, says what is wrong
// with one, "" if nothing; change, if not nil, brings it into its final form.
func text[T any](k Key, form func(string) string, change func(string) string, at func(*T) *string) field[T] {
	if k.Type == "" {
		k.Type = "text"
	}
	read := func(d *decoder, n *yaml.Node, path string, into *T) bool {
		v, ok := d.text(n, path, k, form)
		if ok && change != nil {
			v = change(v)
		}
		if ok {
			*at(into) = v
		}
		return ok
	}
	return field[T]{Key: k, read: read}
}

func (d *decoder) text(n *yaml.Node, path string, k Key, form func(string) string) (string, bool) {
	n, ok := d.word(n, path, k.Expectation())
	if !ok {
		return "", false
	}
	if form != nil {
		if fault := form(n.Value); fault != "" {
			return "", d.wrong(n, path, quoted(n.Value)+" "+fault, "write a "+k.Expectation())
		}
	}
	return n.Value, true
}

// choice is a key that holds one of a few words, in any case; the first word is
// the value 0, and so on.
func choice[T any, W ~uint8](k Key, words []string, at func(*T) *W) field[T] {
	k.Type = "word"
	k.Allowed = oneOf(words)
	read := func(d *decoder, n *yaml.Node, path string, into *T) bool {
		n, ok := d.word(n, path, k.Expectation())
		if !ok {
			return false
		}
		for i, w := range words {
			if strings.EqualFold(n.Value, w) {
				*at(into) = W(i)
				return true
			}
		}
		mend := "allowed is " + k.Allowed
		if near := nearest(n.Value, words); near != "" {
			mend = "did you mean " + near + "? " + mend
		}
		return d.wrong(n, path, quoted(n.Value)+" is unknown here", mend)
	}
	return field[T]{Key: k, read: read}
}
