// Package examples holds the worked examples, each in its folder, so that the
// program can write them out. An example is a plan, its observations where it
// needs any, and a page that says what to try.
package examples

import (
	"embed"
	"fmt"
	"io/fs"
	"strings"
)

// Names of the files in an example's folder.
const (
	PlanFile         = "plan.yaml"
	ObservationsFile = "observations.csv.gz" // absent where all links are fixed
	ReadmeFile       = "README.md"
)

//go:embed aysen/plan.yaml aysen/observations.csv.gz aysen/README.md
//go:embed fixed/plan.yaml fixed/README.md
var files embed.FS

// Names lists the examples in order, the fullest first.
func Names() []string { return []string{"aysen", "fixed"} }

// FS holds one folder for each example, by its name.
func FS() fs.FS { return files }

// Open returns the files of one example. The error lists the names there are.
func Open(name string) (fs.FS, error) {
	for _, known := range Names() {
		if name == known {
			return fs.Sub(files, name)
		}
	}
	return nil, fmt.Errorf("there is no example %q; there are: %s", name, strings.Join(Names(), ", "))
}
