package app

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"farhop/mesh"
	"farhop/observations"
)

// doneStates are what a list of what was done may say of a message.
var doneStates = []string{"delivered", "given-up", "held", "lost"}

// done takes a list of what has become of messages, and leaves what is still to
// be planned: delivered and given-up ones are left out, held ones go on from the
// station that holds them, lost ones start again at their origin. A message to every
// member stays in the list for those who lack it, where stations are named as having
// it.
//
// The list is CSV with the columns id, state and station: for held the one that holds
// it; for messages to every member one or several, with blanks between, that have
// it.
func (s *Session) done(messages []mesh.Message) ([]mesh.Message, error) {
	if s.req.DoneList == "" {
		return messages, nil
	}
	f, err := os.Open(s.req.DoneList)
	if os.IsNotExist(err) {
		return nil, usagef("no list of what was done at %s", s.req.DoneList)
	}
	if err != nil {
		return nil, err
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.FieldsPerRecord = -1
	r.TrimLeadingSpace = true
	head, err := r.Read()
	for i := range head {
		head[i] = strings.ToLower(strings.TrimSpace(strings.TrimPrefix(head[i], "\ufeff")))
	}
	id, state, at := slices.Index(head, "id"), slices.Index(head, "state"), slices.Index(head, "station")
	if err != nil || id < 0 || state < 0 {
		return nil, fmt.Errorf("%s:1: wants a line with the columns id, state and station", s.req.DoneList)
	}
	left := slices.Clone(messages)
	for {
		row, err := r.Read()
		if errors.Is(err, io.EOF) {
			return left, nil
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", s.req.DoneList, err)
		}
		cell := func(i int) string {
			if i < 0 || i >= len(row) {
				return ""
			}
			return strings.TrimSpace(row[i])
		}
		if left, err = s.doneOne(left, messages, cell(id), cell(state), cell(at)); err != nil {
			line, _ := r.FieldPos(0)
			return nil, fmt.Errorf("%s:%d: %w", s.req.DoneList, line, err)
		}
	}
}

// doneOne takes in one line of the list.
func (s *Session) doneOne(left, all []mesh.Message, id, state, station string) ([]mesh.Message, error) {
	named := func(m mesh.Message) bool { return m.ID == id }
	if !slices.ContainsFunc(all, named) {
		var ids []string
		for i := range all {
			ids = append(ids, all[i].ID)
		}
		if near, ok := observations.Nearest(id, ids); ok {
			return nil, fmt.Errorf("no message %q; did you mean %s?", id, near)
		}
		return nil, fmt.Errorf("no message %q in the traffic list", id)
	}
	i := slices.IndexFunc(left, named)
	if i < 0 {
		return nil, fmt.Errorf("message %s is named twice", id)
	}
	if left[i].To == mesh.EveryMember && station != "" && (state == "delivered" || state == "held") {
		return s.reached(left, i, station)
	}
	switch state {
	case "delivered", "given-up":
		return slices.Delete(left, i, i+1), nil
	case "lost":
		return left, nil
	case "held":
		v, ok := s.net.Find(station)
		if !ok {
			return nil, fmt.Errorf("message %s is held by no station of the plan: %q", id, station)
		}
		if v == left[i].To {
			return slices.Delete(left, i, i+1), nil
		}
		left[i].From = v
		return left, nil
	}
	return nil, fmt.Errorf("state %q of message %s: it is %s", state, id, strings.Join(doneStates, ", "))
}

// reached notes the stations that have a message to every member, and leaves it out
// once all have it.
func (s *Session) reached(left []mesh.Message, i int, stations string) ([]mesh.Message, error) {
	m := &left[i]
	m.Has = slices.Clone(m.Has)
	for _, name := range strings.Fields(stations) {
		v, ok := s.net.Find(name)
		if !ok {
			return nil, fmt.Errorf("message %s has reached no station of the plan: %q", m.ID, name)
		}
		if v != m.From && !slices.Contains(m.Has, v) {
			m.Has = append(m.Has, v)
		}
	}
	slices.Sort(m.Has)
	if len(m.Has) == len(s.net.Stations)-1 {
		return slices.Delete(left, i, i+1), nil
	}
	return left, nil
}
