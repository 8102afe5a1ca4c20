package app

import (
	"strconv"
	"strings"
)

// try is a command worth trying next, with the plan, evidence and moment of this
// one.
func (s *Session) try(command string) string {
	r := s.req
	parts := []string{"farhop", command}
	add := func(flag, value string) { parts = append(parts, flag, quoted(value)) }
	if r.Plan != DefaultRequest().Plan {
		add("--plan", r.Plan)
	}
	for _, o := range r.Observations {
		add("--observations", o)
	}
	for _, h := range r.Heard {
		add("--heard", h)
	}
	if r.At != "" && r.At != "now" {
		add("--at", r.At)
	}
	for _, w := range []struct {
		flag   string
		values []string
	}{
		{"--without", r.WhatIf.Without}, {"--power", r.WhatIf.Power}, {"--on-air", r.WhatIf.OnAir}, {"--move", r.WhatIf.Move},
	} {
		for _, v := range w.values {
			add(w.flag, v)
		}
	}
	switch word, _, _ := strings.Cut(command, " "); word {
	case "table", "route", "simulate":
		parts = append(parts, s.asked(command)...)
	}
	return strings.Join(parts, " ")
}

// asked are the flags of the message and of the links to be used, as far as they aren't
// the default and the command doesn't set them itself.
func (s *Session) asked(command string) (flags []string) {
	r, usual := s.req, DefaultRequest()
	if r.Characters != usual.Characters {
		flags = append(flags, "--characters", strconv.Itoa(r.Characters))
	}
	if r.Deadline != usual.Deadline {
		flags = append(flags, "--deadline", quoted(r.Deadline))
	}
	if r.Inferred && !strings.Contains(command, "--inferred") {
		flags = append(flags, "--inferred")
	}
	if r.Unknown && !strings.Contains(command, "--unknown") {
		flags = append(flags, "--unknown")
	}
	return flags
}

// quoted writes a word so that a shell takes it as one.
func quoted(s string) string {
	plain := func(r rune) bool {
		return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || strings.ContainsRune("./_-:+=,@%", r)
	}
	if s != "" && strings.IndexFunc(s, func(r rune) bool { return !plain(r) }) < 0 {
		return s
	}
	return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'"
}
