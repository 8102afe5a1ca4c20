package render

import (
	"fmt"
	"io"
	"math"
	"strings"

	"github.com/emicklei/dot"

	"farhop/cmd/farhop/internal/view"
)

// DOT writes a drawing in the Graphviz language. Everything is inserted in the
// drawing's own order, so equal drawings give equal bytes.
func DOT(w io.Writer, v *view.Drawing) error {
	g := dot.NewGraph(dot.Directed)
	g.Attrs("label", dotLabel(v.Legend), "labelloc", "b", "labeljust", "l",
		"fontname", "Helvetica", "fontsize", "11", "nodesep", "0.4", "ranksep", "0.7")
	nodes := make([]dot.Node, len(v.Nodes))
	for i, members := range v.Groups {
		in := g
		if len(members) > 1 {
			in = g.Subgraph(fmt.Sprintf("group %d: %d stations", i+1, len(members)), dot.ClusterOption{})
			in.Attrs("style", "rounded", "color", "#777777", "fontcolor", "#444444")
		}
		for _, m := range members {
			nodes[m] = drawNode(in, v.Nodes[m].Call, &v.Nodes[m])
		}
	}
	for i := range v.Edges {
		e := &v.Edges[i]
		drawEdge(g.Edge(nodes[e.From], nodes[e.To]), e)
	}
	_, err := io.WriteString(w, g.String())
	return err
}

func drawNode(g *dot.Graph, id string, n *view.Node) dot.Node {
	label := n.Call
	if n.Note != "" {
		label += "\n" + n.Note
	}
	shape, style := "box", "rounded"
	switch {
	case n.Single:
		shape, style = "doubleoctagon", "bold"
	case n.Alone:
		style = "dotted"
	}
	d := g.Node(id).Label(label)
	d.Attrs("fontname", "Helvetica", "fontsize", "12", "shape", shape, "style", style)
	return d
}

func drawEdge(d dot.Edge, e *view.DrawnLink) {
	// Width 0.6 to 4 points and grey 75 % to black, both by decode chance.
	grey := int(math.Round(190 * (1 - e.Decode)))
	d.Attrs("penwidth", fmt.Sprintf("%.2f", 0.6+3.4*e.Decode),
		"color", fmt.Sprintf("#%02x%02x%02x", grey, grey, grey),
		"label", fmt.Sprintf("%.0f", 100*e.Decode),
		"fontname", "Helvetica", "fontsize", "9", "tooltip", e.Channels)
	if e.Both {
		d.Attr("dir", "both")
	}
	if e.Stale {
		d.Attr("style", "dashed")
	}
}

// dotLabel joins lines, each left-justified.
func dotLabel(lines []string) dot.Literal {
	escape := strings.NewReplacer(`\`, `\\`, `"`, `\"`)
	var b strings.Builder
	b.WriteByte('"')
	for _, l := range lines {
		b.WriteString(escape.Replace(l) + `\l`)
	}
	b.WriteByte('"')
	return dot.Literal(b.String())
}
