package delivery

// Between returns the chances that the next hop may start with edges[k] or a slot
// after it but before edges[k+1], by node of the net-wide deviate and k. The edges
// must not fall.
func (p *Prefix) Between(edges []int) []float64 {
	nodes, count := len(p.by.beyond), max(len(edges)-1, 0)
	out := make([]float64, nodes*count)
	for j := range nodes {
		row := p.by.node(j)
		for k := range count {
			from, upto := max(edges[k]-p.by.first, 0), min(edges[k+1]-p.by.first, len(row))
			if from < upto {
				for _, v := range row[from:upto] {
					out[j*count+k] += v
				}
			}
		}
	}
	return out
}

// Size returns how many figures the prefix holds, for those who keep many.
func (p *Prefix) Size() int { return len(p.by.of) }
