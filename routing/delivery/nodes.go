package delivery

// Nodes returns the nodes of the net-wide deviate, in standard deviations, in
// growing order. The slice must not be changed.
func (e *Evaluator) Nodes() []float64 { return e.rule.nodes }
