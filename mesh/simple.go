package mesh

import (
	"math"

	"gonum.org/v1/gonum/graph"
)

// Simple is a Graph with at most one edge from a station to another. It
// satisfies graph.WeightedDirected of gonum and goes through nodes in the order of
// their ids.
type Simple struct {
	multi *Graph
	out   [][]simpleEdge
	in    [][]int32
}

// simpleEdge is the lightest of the edges from one station to another.
type simpleEdge struct {
	to     int32
	edge   int32 // index into multi.edges
	weight float64
}

// Simple keeps, of all edges from a station to another, the one with the lowest
// weight, and of equal ones that on the first channel. The weight function says what
// each edge weighs and whether it counts at all; weights that gonum's algorithms
// can't take (negative, NaN) leave the edge out.
func (g *Graph) Simple(weight func(Edge) (float64, bool)) *Simple {
	n := len(g.into)
	s := &Simple{multi: g, out: make([][]simpleEdge, n), in: make([][]int32, n)}
	for i, e := range g.edges {
		w, counts := weight(e)
		if !counts || !(w >= 0) {
			continue
		}
		row := s.out[e.From]
		if last := len(row) - 1; last >= 0 && int(row[last].to) == e.To {
			if w < row[last].weight {
				row[last] = simpleEdge{int32(e.To), int32(i), w}
			}
			continue
		}
		s.out[e.From] = append(row, simpleEdge{int32(e.To), int32(i), w})
		s.in[e.To] = append(s.in[e.To], int32(e.From))
	}
	return s
}

// Arc is an edge in a Simple.
type Arc struct {
	Edge
	from, to Node
	weight   float64
}

// From returns the sender.
func (a Arc) From() graph.Node { return a.from }

// To returns the receiver.
func (a Arc) To() graph.Node { return a.to }

// ReversedEdge returns the arc itself: the way back is another arc.
func (a Arc) ReversedEdge() graph.Edge { return a }

// Weight is what Graph.Simple was told.
func (a Arc) Weight() float64 { return a.weight }

// Node returns the station with the id, nil if there is none.
func (s *Simple) Node(id int64) graph.Node { return s.multi.Node(id) }

// Nodes returns all stations in order.
func (s *Simple) Nodes() graph.Nodes { return s.multi.Nodes() }

// From returns the stations that the one with the id has an edge to, in order.
func (s *Simple) From(id int64) graph.Nodes {
	if !s.multi.has(id) {
		return graph.Empty
	}
	list := make([]graph.Node, len(s.out[id]))
	for i, e := range s.out[id] {
		list[i] = s.multi.node(int(e.to))
	}
	return ordered(list)
}

// To returns the stations that have an edge to the one with the id, in order.
func (s *Simple) To(id int64) graph.Nodes {
	if !s.multi.has(id) {
		return graph.Empty
	}
	list := make([]graph.Node, len(s.in[id]))
	for i, from := range s.in[id] {
		list[i] = s.multi.node(int(from))
	}
	return ordered(list)
}

// find is the edge between two stations, nil if there is none. O(log n).
func (s *Simple) find(uid, vid int64) *simpleEdge {
	if !s.multi.has(uid) {
		return nil
	}
	row := s.out[uid]
	low, high := 0, len(row)
	for low < high {
		if middle := (low + high) / 2; int64(row[middle].to) < vid {
			low = middle + 1
		} else {
			high = middle
		}
	}
	if low == len(row) || int64(row[low].to) != vid {
		return nil
	}
	return &row[low]
}

// HasEdgeFromTo reports whether there is an edge from one station to another.
func (s *Simple) HasEdgeFromTo(uid, vid int64) bool { return s.find(uid, vid) != nil }

// HasEdgeBetween reports whether there is an edge either way.
func (s *Simple) HasEdgeBetween(xid, yid int64) bool {
	return s.HasEdgeFromTo(xid, yid) || s.HasEdgeFromTo(yid, xid)
}

// Edge returns the edge from one station to another, nil if there is none.
func (s *Simple) Edge(uid, vid int64) graph.Edge {
	if e := s.WeightedEdge(uid, vid); e != nil {
		return e
	}
	return nil
}

// WeightedEdge returns the edge from one station to another, nil if there is none.
func (s *Simple) WeightedEdge(uid, vid int64) graph.WeightedEdge {
	e := s.find(uid, vid)
	if e == nil {
		return nil
	}
	return Arc{s.multi.edges[e.edge], s.multi.node(int(uid)), s.multi.node(int(vid)), e.weight}
}

// Weight returns the weight from one station to another: 0 to itself, +Inf and
// false where there is no edge.
func (s *Simple) Weight(xid, yid int64) (w float64, ok bool) {
	if xid == yid && s.multi.has(xid) {
		return 0, true
	}
	if e := s.find(xid, yid); e != nil {
		return e.weight, true
	}
	return math.Inf(1), false
}
