package config

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"
)

// Keys returns the outermost keys of a plan; each holds those below it.
func Keys() []Key { return planTable.keys() }

// Explain describes the keys of a plan in plain text, 78 columns wide: all of
// them for the path "", else those at and below a path such as stations or
// stations.supply (indexes in brackets are passed over). The error names the
// keys that are known where the path leaves them.
func Explain(path string) (string, error) {
	keys, at := Keys(), ""
	names := strings.FieldsFunc(brackets().ReplaceAllString(path, ""), func(r rune) bool { return r == '.' })
	for i, name := range names {
		at = join(at, name)
		k := slices.IndexFunc(keys, func(k Key) bool { return k.Name == name })
		switch {
		case k < 0:
			return "", unknownKey(at, keys)
		case i < len(names)-1:
			keys = keys[k].Keys
		default:
			keys = keys[k : k+1]
		}
	}
	var b strings.Builder
	explain(&b, keys, "")
	return b.String(), nil
}

var brackets = lazily(`\[\d*\]`)

func unknownKey(path string, keys []Key) error {
	names := make([]string, len(keys))
	for i, k := range keys {
		names[i] = k.Name
	}
	if len(names) == 0 {
		return fmt.Errorf("the plan has no key %s", path)
	}
	return fmt.Errorf("the plan has no key %s; known there are %s", path, oneOf(names))
}

func explain(b *strings.Builder, keys []Key, indent string) {
	for _, k := range keys {
		fmt.Fprintf(b, "%s%s: %s; %s\n", indent, k.Name, k.Expectation(), k.Fallback())
		wrap(b, k.Help, indent+"    ")
		explain(b, k.Keys, indent+"  ")
		if indent == "" {
			b.WriteString("\n")
		}
	}
}

// width is the columns a comment or an explanation may take.
const width = 78

// wrap writes a text in lines that begin with the prefix.
func wrap(b *strings.Builder, text, prefix string) { hang(b, text, prefix, prefix) }

// hang writes a text in lines, of which the first has a prefix of its own.
func hang(b *strings.Builder, text, first, rest string) {
	column := 0
	for _, word := range strings.Fields(text) {
		n := utf8.RuneCountInString(word)
		switch {
		case column == 0:
			b.WriteString(first)
			column = utf8.RuneCountInString(first)
		case column+1+n > width:
			b.WriteString("\n" + rest)
			column = utf8.RuneCountInString(rest)
		default:
			b.WriteString(" ")
			column++
		}
		b.WriteString(word)
		column += n
	}
	if column > 0 {
		b.WriteString("\n")
	}
}
