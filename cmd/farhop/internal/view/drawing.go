package view

import "time"

// StaleAfter is the age of the newest evidence past which a link is drawn as
// stale: a full day, so that the same hour has come round without a word.
const StaleAfter = 24 * time.Hour

// Ways to look at a net.
const (
	MapView     = "map"     // where the stations stand
	DiagramView = "diagram" // who is joined with whom
	MatrixView  = "matrix"  // who hears whom, a cell a direction
	StripView   = "strip"   // the day of a chain, an answer of its own
	DayView     = "day"     // the day of the net, likewise
)

// Drawing is the net as a picture.
type Drawing struct {
	Head
	View   string // one of the ways above
	Nodes  []Node
	Edges  []DrawnLink
	Groups [][]int  // indexes into Nodes: stations that reach each other both ways, the largest first
	Legend []string // of the dot format: what the signs mean, the cut-off, and what was left out

	Threshold         float64 // decode chance from which a link is open
	StaleLinks        int     // of Edges
	UnknownDirections int     // left out for want of evidence
	Centre            int     // of the map, an index into Nodes, -1 = the middle of the net
	Chain             *DrawnChain
	Cells             [][]Cell // Cells[receiver][sender]
}

// Node is a station in a drawing.
type Node struct {
	Call    string
	Single  bool // its loss cuts others off
	Alone   bool // isolated, or nothing known of it
	Note    string
	Locator string // "" = it has no place
	Lat     float64
	Lon     float64
	KM      float64 // from the map's centre, when that is a station
	Bearing float64 // from there, degrees from true north
}

// Placed reports whether it is known where the station stands.
func (n *Node) Placed() bool { return n.Locator != "" }

// DrawnLink is a link in a drawing, From and To being indexes into Nodes.
type DrawnLink struct {
	From, To int
	Both     bool    // open both ways; Decode is then the weaker way's
	Decode   float64 // 0…1
	There    float64 // from From to To
	Back     float64 // from To to From, 0 when not open
	Stale    bool
	Inferred bool // one way or both taken from the opposite direction
	Guessed  bool // one way or both used although too little is known
	Stated   bool // fixed by the plan
	Channels string
	KM       float64 // 0 when a place is unknown
	Bearing  float64 // from From, degrees from true north
}

// DrawnChain is the chosen chain, on top of the drawing.
type DrawnChain struct {
	Stations []int  // the two ends alone when none is known
	Known    bool   // there is one
	Text     string // how good it is, in words
}

// CellState says what is known of one direction.
type CellState uint8

// States of a direction.
const (
	CellNone    CellState = iota // itself, or no channel that both can use at the moment
	CellUnknown                  // too little evidence
	CellClosed                   // known, below the threshold
	CellOpen
)

// String is the state in a word.
func (s CellState) String() string {
	switch s {
	case CellUnknown:
		return "unknown"
	case CellClosed:
		return "closed"
	case CellOpen:
		return "open"
	}
	return "none"
}

// Cell is one direction over its best channel.
type Cell struct {
	State  CellState
	Decode float64 // when known
	Stale  bool
}

// GroupOf is the number of each node's group of at least two, from 1; 0 = none.
func (v *Drawing) GroupOf() []int {
	of := make([]int, len(v.Nodes))
	for i, g := range v.Groups {
		if len(g) < 2 {
			continue
		}
		for _, m := range g {
			of[m] = i + 1
		}
	}
	return of
}

// Unplaced lists the stations without a place.
func (v *Drawing) Unplaced() []string {
	var calls []string
	for i := range v.Nodes {
		if !v.Nodes[i].Placed() {
			calls = append(calls, v.Nodes[i].Call)
		}
	}
	return calls
}

// Tie is the decode chance of an open direction, 0 of any other.
func (c *Cell) Tie() float64 {
	if c.State == CellOpen {
		return c.Decode
	}
	return 0
}
