package mesh

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/graph"
	"gonum.org/v1/gonum/graph/iterator"
)

// Graph is every edge of a net at one moment: a directed, weighted multigraph
// whose nodes are the stations, by index, and whose lines are the channels. It
// satisfies graph.WeightedDirectedMultigraph of gonum, and goes through nodes and
// lines in the order of their ids, so that algorithms which break ties by that
// order give the same result on every run.
//
// A line's weight is −ln of its frame decode chance, so that the shortest chain is
// the one that a single frame passes most likely; +Inf where that chance is 0.
// Unknown and inferred edges are lines like others: say with Simple which count.
type Graph struct {
	net   *Net
	unix  int64
	edges []Edge  // by from, to, channel
	first []int32 // index of the first edge of each station, and the end
	into  [][]int32
}

// Graph takes a snapshot of all edges at a moment. O(n²·channels) time and memory.
func (l *Links) Graph(unix int64) *Graph {
	n := len(l.net.Stations)
	g := &Graph{net: l.net, unix: unix, first: make([]int32, n+1), into: make([][]int32, n)}
	for from := range n {
		for to := range n {
			before := len(g.edges)
			for channel := range l.net.Channels {
				if e, ok := l.Edge(from, to, channel, unix); ok {
					g.edges = append(g.edges, e)
				}
			}
			if len(g.edges) > before {
				g.into[to] = append(g.into[to], int32(from))
			}
		}
		g.first[from+1] = int32(len(g.edges))
	}
	return g
}

// Net is the plan that the graph belongs to.
func (g *Graph) Net() *Net { return g.net }

// Unix is the moment of the graph.
func (g *Graph) Unix() int64 { return g.unix }

// Edges lists all edges by from, to and channel. The list is the graph's own and
// must not be changed.
func (g *Graph) Edges() []Edge { return g.edges }

// Between lists the edges from one station to another by channel, none where
// there are none. The list is the graph's own and must not be changed.
func (g *Graph) Between(from, to int) []Edge {
	if from < 0 || to < 0 || from >= len(g.into) || to >= len(g.into) {
		return nil
	}
	row := g.edges[g.first[from]:g.first[from+1]]
	i, _ := slices.BinarySearchFunc(row, to, func(e Edge, to int) int { return e.To - to })
	j := i
	for j < len(row) && row[j].To == to {
		j++
	}
	return row[i:j]
}

// Node is a station in a Graph or Simple.
type Node struct {
	Station int
	Call    string
}

// ID is the station's index.
func (n Node) ID() int64 { return int64(n.Station) }

// Line is an edge in a Graph.
type Line struct {
	Edge
	from, to Node
}

// From returns the sender.
func (l Line) From() graph.Node { return l.from }

// To returns the receiver.
func (l Line) To() graph.Node { return l.to }

// ID is the channel, which tells lines with the same ends apart.
func (l Line) ID() int64 { return int64(l.Channel) }

// ReversedLine returns the line itself: the way back is another line.
func (l Line) ReversedLine() graph.Line { return l }

// Weight is −ln of the frame decode chance, 0…+Inf.
func (l Line) Weight() float64 { return weight(l.Edge) }

func weight(e Edge) float64 {
	if e.Decode >= 1 {
		return 0
	}
	return -math.Log(max(e.Decode, 0))
}

func (g *Graph) node(station int) Node { return Node{station, g.net.Stations[station].Call} }

func (g *Graph) has(id int64) bool { return id >= 0 && id < int64(len(g.into)) }

// Node returns the station with the id, nil if there is none.
func (g *Graph) Node(id int64) graph.Node {
	if !g.has(id) {
		return nil
	}
	return g.node(int(id))
}

// Nodes returns all stations in order.
func (g *Graph) Nodes() graph.Nodes {
	list := make([]graph.Node, len(g.into))
	for i := range list {
		list[i] = g.node(i)
	}
	return ordered(list)
}

// From returns the stations that the one with the id has an edge to, in order.
func (g *Graph) From(id int64) graph.Nodes {
	if !g.has(id) {
		return graph.Empty
	}
	var list []graph.Node
	last := -1
	for _, e := range g.edges[g.first[id]:g.first[id+1]] {
		if e.To != last {
			list = append(list, g.node(e.To))
			last = e.To
		}
	}
	return ordered(list)
}

// To returns the stations that have an edge to the one with the id, in order.
func (g *Graph) To(id int64) graph.Nodes {
	if !g.has(id) {
		return graph.Empty
	}
	list := make([]graph.Node, len(g.into[id]))
	for i, from := range g.into[id] {
		list[i] = g.node(int(from))
	}
	return ordered(list)
}

// ordered is an iterator that keeps the order; gonum wants an empty one to be
// graph.Empty.
func ordered(list []graph.Node) graph.Nodes {
	if len(list) == 0 {
		return graph.Empty
	}
	return iterator.NewOrderedNodes(list)
}

// HasEdgeFromTo reports whether there is an edge from one station to another.
func (g *Graph) HasEdgeFromTo(uid, vid int64) bool { return len(g.between(uid, vid)) > 0 }

// HasEdgeBetween reports whether there is an edge either way.
func (g *Graph) HasEdgeBetween(xid, yid int64) bool {
	return g.HasEdgeFromTo(xid, yid) || g.HasEdgeFromTo(yid, xid)
}

func (g *Graph) between(uid, vid int64) []Edge {
	if !g.has(uid) || !g.has(vid) {
		return nil
	}
	return g.Between(int(uid), int(vid))
}

// Lines returns the edges from one station to another by channel.
func (g *Graph) Lines(uid, vid int64) graph.Lines {
	edges := g.between(uid, vid)
	if len(edges) == 0 {
		return graph.Empty
	}
	list := make([]graph.Line, len(edges))
	for i, e := range edges {
		list[i] = Line{e, g.node(e.From), g.node(e.To)}
	}
	return iterator.NewOrderedLines(list)
}

// WeightedLines returns the edges from one station to another by channel.
func (g *Graph) WeightedLines(uid, vid int64) graph.WeightedLines {
	edges := g.between(uid, vid)
	if len(edges) == 0 {
		return graph.Empty
	}
	list := make([]graph.WeightedLine, len(edges))
	for i, e := range edges {
		list[i] = Line{e, g.node(e.From), g.node(e.To)}
	}
	return iterator.NewOrderedWeightedLines(list)
}
