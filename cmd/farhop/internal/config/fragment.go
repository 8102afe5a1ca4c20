package config

import (
	"strings"
	"time"

	"farhop/mesh"
	"farhop/mesh/link"
)

// ModelFragment writes link settings as the model part of a plan: the keys that
// differ from the built-in settings, model: {} when none does. HalfDecodeDB and
// SpreadDB belong to the slots of a plan and are left out. Loading the fragment
// gives the same settings, time constants rounded to whole seconds.
func ModelFragment(s link.Settings, commonDB float64) []byte {
	for _, tau := range []*time.Duration{&s.LevelTau, &s.HarmonicTau, &s.FastTau, &s.SlowTau} {
		*tau = tau.Round(time.Second)
	}
	net := &mesh.Net{Link: s, CommonDB: commonDB}
	plain := &mesh.Net{Link: link.Defaults(), CommonDB: mesh.DefaultCommonDB}
	var b strings.Builder
	for _, f := range modelTable.fields {
		if v := f.write(net); v != f.write(plain) {
			b.WriteString("  " + f.Name + ": " + v + "\n")
		}
	}
	if b.Len() == 0 {
		return []byte("model: {}\n")
	}
	return []byte("model:\n" + b.String())
}
