package cut

// census counts ordered pairs of stations by what is known of their links.
type census struct {
	known   int   // pairs with a known link
	unknown int   // pairs with an unknown link and no known one
	used    int   // of these, pairs with a link that may be an edge all the same
	nothing []int // stations with unknown links only, in either direction, ascending
}

// pairs calls visit for the links of each ordered pair that has any, in order.
func (g *Graph) pairs(visit func(start, end int)) {
	for i := 0; i < len(g.links); {
		start := i
		for i < len(g.links) && g.links[i].From == g.links[start].From && g.links[i].To == g.links[start].To {
			i++
		}
		visit(start, i)
	}
}

func (g *Graph) census() census {
	var c census
	hasKnown, hasUnknown := make([]bool, g.stations), make([]bool, g.stations)
	g.pairs(func(start, end int) {
		known, use := false, false
		for _, l := range g.links[start:end] {
			known, use = known || l.Known, use || l.Use
		}
		mark := hasUnknown
		if known {
			c.known++
			mark = hasKnown
		} else {
			c.unknown++
			if use {
				c.used++
			}
		}
		mark[g.links[start].From], mark[g.links[start].To] = true, true
	})
	for v := range g.stations {
		if hasUnknown[v] && !hasKnown[v] {
			c.nothing = append(c.nothing, v)
		}
	}
	return c
}
