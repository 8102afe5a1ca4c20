// Package layers holds no code: its test keeps the arrows between the packages
// of this module pointing one way.
package layers

import (
	"encoding/json"
	"errors"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// allowed lists, for every package, the packages of this module that it may
// import. A package that isn't listed is a violation.
var allowed = map[string][]string{
	"observations":         {"observations/locator"},
	"observations/locator": {},
	"mesh/link":            {},
	"mesh":                 {"observations", "observations/locator", "mesh/link"},
	"mesh/meshtest":        {"mesh", "mesh/link", "observations", "observations/locator"},
	"mesh/fit":             {"mesh", "mesh/link"},
	"mesh/workers":         {},
	"routing/delivery":     {"mesh/link"},
	"routing":              {"mesh", "mesh/link", "mesh/workers", "routing/delivery"},
	"routing/cut":          {"mesh", "mesh/link", "mesh/workers"},
	"routing/reinforce":    {"mesh", "mesh/link", "mesh/workers", "observations", "observations/locator", "routing/cut"},
	"routing/simulate":     {"mesh", "mesh/link"},
	"routing/anyrelay":     {"mesh", "mesh/link"},
	"routing/sounding":     {"mesh", "mesh/link", "routing", "routing/cut"},
	"routing/backtest":     {"mesh", "mesh/link"},
	"routing/timetable":    {"mesh", "mesh/link", "routing/delivery"},
	"routing/endurance":    {"mesh", "mesh/link", "observations/locator", "routing/timetable"},

	"examples":                {},
	"examples/aysen":          {"mesh", "mesh/link", "observations", "observations/locator"},
	"examples/aysen/generate": {"examples/aysen"},

	"cmd/farhop/internal/config":    {"mesh", "mesh/link", "observations", "observations/locator"},
	"cmd/farhop/internal/radiogram": {},
	"cmd/farhop/internal/view":      {},
	"cmd/farhop/internal/scene":     {},
	"cmd/farhop/internal/globe":     {"observations/locator"},
	"cmd/farhop/internal/chart": {
		"observations/locator", "cmd/farhop/internal/globe", "cmd/farhop/internal/scene", "cmd/farhop/internal/view",
	},
	"cmd/farhop/internal/globe/generate": {},
	"cmd/farhop/internal/render": {
		"observations/locator", "cmd/farhop/internal/chart", "cmd/farhop/internal/globe", "cmd/farhop/internal/scene", "cmd/farhop/internal/view",
	},
	"cmd/farhop/internal/app": {
		"observations", "observations/locator", "mesh", "mesh/link", "routing", "routing/delivery", "routing/cut", "routing/backtest", "mesh/fit",
		"routing/simulate", "routing/anyrelay", "routing/reinforce", "routing/sounding",
		"routing/timetable", "routing/endurance",
		"examples", "cmd/farhop/internal/config", "cmd/farhop/internal/radiogram", "cmd/farhop/internal/view",
	},
	"cmd/farhop/internal/cli": {
		"cmd/farhop/internal/app", "cmd/farhop/internal/config", "cmd/farhop/internal/render", "cmd/farhop/internal/view",
	},
	"cmd/farhop/internal/layers": {},
	"cmd/farhop":                 {"cmd/farhop/internal/cli"},
}

// only lists who may import a library, by the start of its path; the packages
// of the planner itself (observations, mesh, routing) may not.
var only = map[string][]string{
	"github.com/spf13/cobra":  {"cmd/farhop/internal/cli"},
	"gopkg.in/yaml.v3":        {"cmd/farhop/internal/config"},
	"github.com/emicklei/dot": {"cmd/farhop/internal/render"},
	"golang.org/x/term":       {"cmd/farhop/internal/cli"},
	"golang.org/x/image/font": {"cmd/farhop/internal/scene"},
	"net":                     {},
	"net/http":                {},
	"log":                     {},
	"os/exec":                 {},
	"math/rand":               {},
}

type pkg struct {
	ImportPath, Dir string
	Imports         []string
	GoFiles         []string
}

// packages lists the packages of the module.
func packages(t *testing.T) []pkg {
	t.Helper()
	cmd := exec.Command("go", "list", "-json=ImportPath,Dir,Imports,GoFiles", "farhop/...")
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	var all []pkg
	for d := json.NewDecoder(strings.NewReader(string(out))); ; {
		var p pkg
		if err := d.Decode(&p); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		all = append(all, p)
	}
	if len(all) < 10 {
		t.Fatalf("go list found only %d packages", len(all))
	}
	return all
}

func short(path string) string { return strings.TrimPrefix(path, "farhop/") }

func TestArrows(t *testing.T) {
	for _, p := range packages(t) {
		name := short(p.ImportPath)
		may, listed := allowed[name]
		if !listed {
			t.Errorf("%s isn't in the table of packages: add it with what it may import", name)
			continue
		}
		for _, i := range p.Imports {
			if strings.HasPrefix(i, "farhop/") && !slices.Contains(may, short(i)) {
				t.Errorf("%s imports %s, which its place doesn't allow", name, short(i))
			}
			if users, ok := only[i]; ok && !slices.Contains(users, name) {
				t.Errorf("%s imports %s, which only %v may", name, i, users)
			}
		}
	}
}

// TestLibrariesAreQuiet finds printing, the clock and unseeded randomness in
// the packages that may not use them.
func TestLibrariesAreQuiet(t *testing.T) {
	forbidden := map[string][]string{
		"fmt":  {"Print", "Println", "Printf"},
		"time": {"Now", "Since", "Until", "After", "Tick", "NewTimer"},
		"os":   {"Stdout", "Stderr", "Exit", "Getenv"},
	}
	looked := 0
	for _, p := range packages(t) {
		name := short(p.ImportPath)
		if !strings.HasPrefix(name, "observations") && !strings.HasPrefix(name, "mesh") && !strings.HasPrefix(name, "routing") {
			continue
		}
		for _, file := range p.GoFiles {
			looked++
			fset := token.NewFileSet()
			f, err := parser.ParseFile(fset, filepath.Join(p.Dir, file), nil, 0)
			if err != nil {
				t.Fatal(err)
			}
			ast.Inspect(f, func(n ast.Node) bool {
				s, ok := n.(*ast.SelectorExpr)
				if !ok {
					return true
				}
				if x, ok := s.X.(*ast.Ident); ok && x.Obj == nil && slices.Contains(forbidden[x.Name], s.Sel.Name) {
					t.Errorf("%s/%s: line %d uses %s.%s", name, file, fset.Position(n.Pos()).Line, x.Name, s.Sel.Name)
				}
				return true
			})
		}
	}
	if looked < 10 {
		t.Fatalf("only %d files were looked at", looked)
	}
}
