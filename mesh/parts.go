package mesh

// parts are sets of things that have been joined.
type parts struct{ parent []int }

func newParts(n int) *parts {
	p := &parts{make([]int, n)}
	for i := range n {
		p.parent[i] = i
	}
	return p
}

func (p *parts) root(i int) int {
	for p.parent[i] != i {
		p.parent[i] = p.parent[p.parent[i]]
		i = p.parent[i]
	}
	return i
}

func (p *parts) join(i, j int) {
	p.parent[p.root(j)] = p.root(i)
}
