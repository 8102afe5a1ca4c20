package cut

import "farhop/mesh/link"

// chances are the links that may take part in reach, whatever the threshold, as
// a digraph with each arc's directions (one a band) and its chance of being open
// at every point of a rule.
type chances struct {
	*arcs
	rule
	ways [][]link.Direction // by arc
	open []float64          // at arc·len(eta) + point
}

// chances returns the links that may be edges and are ever open. Of several
// channels on one band the one with the best decode chance counts (the first of
// equals): they share one state.
func (g *Graph) chances(twoWay bool) *chances {
	c := &chances{}
	var pairs [][2]int32
	var all []link.Direction
	g.pairs(func(start, end int) {
		if ways := g.ways(start, end, twoWay); len(ways) > 0 {
			pairs = append(pairs, [2]int32{int32(g.links[start].From), int32(g.links[start].To)})
			c.ways = append(c.ways, ways)
			all = append(all, ways...)
		}
	})
	c.arcs = newArcs(g.stations, pairs)
	c.rule = newRule(all)
	for _, ways := range c.ways {
		for _, eta := range c.eta {
			c.open = append(c.open, openAny(ways, eta))
		}
	}
	return c
}

// ways returns the directions of the links start…end−1, those of one ordered
// pair, that are ever open, one a band.
func (g *Graph) ways(start, end int, twoWay bool) []link.Direction {
	var best []int
	for i := start; i < end; i++ {
		if !g.counts(i, twoWay) || marginal(g.links[i].Way) == 0 {
			continue
		}
		known := false
		for k, j := range best {
			if g.links[j].Band == g.links[i].Band {
				known = true
				if g.links[i].Decode > g.links[j].Decode {
					best[k] = i
				}
			}
		}
		if !known {
			best = append(best, i)
		}
	}
	var ways []link.Direction
	for _, i := range best {
		ways = append(ways, g.links[i].Way)
	}
	return ways
}

// openAny returns the chance that at least one of the directions is open given
// the net-wide deviate, independent otherwise.
func openAny(ways []link.Direction, eta float64) float64 {
	if len(ways) == 1 {
		return ways[0].Open(eta)
	}
	closed := 1.0
	for _, d := range ways {
		closed *= 1 - d.Open(eta)
	}
	return 1 - closed
}

// marginal returns the chance that a direction is open, averaged over the
// net-wide deviate: Φ(Margin/SD).
func marginal(d link.Direction) float64 {
	if d.Kind == link.Gaussian && d.SD > 0 {
		return link.Phi(d.Margin / d.SD)
	}
	return d.Open(0)
}

// mean averages a value at every point.
func (r rule) mean(at []float64) float64 {
	sum := 0.0
	for i, w := range r.weight {
		sum += w * at[i]
	}
	return sum
}
