package render

import (
	"bufio"
	"strconv"
	"strings"
)

// ANSI sequences (ECMA-48, SGR). Likely and unlikely differ in weight as well as in
// colour, of two that are read on light and on dark screens and told apart with any
// kind of colour vision; the figure stands there anyway.
const (
	styleBold     = "\x1b[1m"
	styleLikely   = "\x1b[1;36m"
	styleUnlikely = "\x1b[35m"
	styleOff      = "\x1b[0m"
)

// chanceStyle is how a chance in per cent is set off, as view.Percent writes it, with
// or without its sign: from 80 and below 50 %; "" for others and for what is none.
func chanceStyle(cell string) string {
	p, err := strconv.ParseFloat(strings.Trim(strings.TrimSuffix(cell, "%"), " <+"), 64)
	switch {
	case err != nil:
		return ""
	case p >= 80:
		return styleLikely
	case p < 50:
		return styleUnlikely
	}
	return ""
}

// bold sets whole lines off, where there may be colours.
func bold(b *bufio.Writer, opt TextOptions, write func(*bufio.Writer)) {
	if !opt.Colour {
		write(b)
		return
	}
	for line := range strings.Lines(inMemory(write)) {
		b.WriteString(styleBold + strings.TrimSuffix(line, "\n") + styleOff + "\n")
	}
}
