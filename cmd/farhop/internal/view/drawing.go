package view

import "time"

// StaleAfter is the age of the newest evidence past which a link is drawn as
// stale: a full day, so that the same hour has come round without a word.
const StaleAfter = 24 * time.Hour

// Drawing is the net as a picture.
type Drawing struct {
	Head
	Nodes  []Node
	Edges  []DrawnLink
	Groups [][]int  // indexes into Nodes: stations that reach each other both ways
	Legend []string // what the signs mean, the cut-off, and what was left out
}

// Node is a station in a drawing.
type Node struct {
	Call   string
	Single bool // its loss cuts others off
	Alone  bool // isolated, or nothing known of it
	Note   string
}

// DrawnLink is a link in a drawing, From and To being indexes into Nodes.
type DrawnLink struct {
	From, To int
	Both     bool    // open both ways; Decode is then the weaker way's
	Decode   float64 // 0…1
	Stale    bool
	Stated   bool // fixed by the plan
	Channels string
}
