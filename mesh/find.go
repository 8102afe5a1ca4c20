package mesh

import "strings"

// names finds stations: by any name they have, in upper case, and by the part of
// the licensed call before a '/'. A base that two stations share is left out.
type names struct {
	exact, base map[string]int
}

// licensed is the call that a '/' suffix may follow: the licensed call or, where
// the plan gives none, the planning name.
func (s *Station) licensed() string {
	if s.Licensed != "" {
		return s.Licensed
	}
	return s.Call
}

// all lists every name of the station, planning name first.
func (s *Station) all() []string {
	list := []string{s.Call}
	if s.Licensed != "" {
		list = append(list, s.Licensed)
	}
	return append(list, s.Also...)
}

func makeNames(stations []Station) names {
	n := names{make(map[string]int), make(map[string]int)}
	shared := make(map[string]bool)
	for i := range stations {
		for _, name := range stations[i].all() {
			n.exact[fold(name)] = i
		}
		base, _, _ := strings.Cut(fold(stations[i].licensed()), "/")
		if _, taken := n.base[base]; taken {
			shared[base] = true
		}
		n.base[base] = i
	}
	for base := range shared {
		delete(n.base, base)
	}
	return n
}

// fold is the form in which names are compared.
func fold(name string) string { return strings.ToUpper(strings.TrimSpace(name)) }

// Find returns the index of the station of that name, in any case: its planning
// name, its licensed call (or, where the plan gives none, the planning name) with
// or without a '/' suffix on either side, or one of its other names. The exact
// name goes first; a suffix that would fit two stations finds neither. The net
// must be prepared. O(1).
func (n *Net) Find(name string) (int, bool) {
	name = fold(name)
	if i, ok := n.names.exact[name]; ok {
		return i, true
	}
	base, _, _ := strings.Cut(name, "/")
	i, ok := n.names.base[base]
	return i, ok
}

// FindChannel returns the index of the channel of that name, in any case.
func (n *Net) FindChannel(name string) (int, bool) {
	name = strings.TrimSpace(name)
	for i := range n.Channels {
		if strings.EqualFold(n.Channels[i].Name, name) {
			return i, true
		}
	}
	return 0, false
}
