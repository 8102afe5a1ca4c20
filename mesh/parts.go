package mesh

// parts are sets of things that have been joined.
type parts struct{ parent, count []int }

func newParts(n int) *parts {
	p := &parts{make([]int, n), make([]int, n)}
	for i := range n {
		p.parent[i], p.count[i] = i, 1
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
	i, j = p.root(i), p.root(j)
	if i != j {
		p.parent[j] = i
		p.count[i] += p.count[j]
	}
}
