//go:build !unix

package mesh

// cpuSeconds would be the processor time the process has taken.
func cpuSeconds() float64 { return 0 }
