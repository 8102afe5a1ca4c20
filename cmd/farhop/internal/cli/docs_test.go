package cli

import (
	"context"
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/spf13/cobra"
)

// update rewrites the output shown in the README: go test ./cmd/farhop/internal/cli -run Readme -update
var update = flag.Bool("update", false, "rewrite the output shown in the README")

// exampleMoment is the moment the worked example is about.
var exampleMoment = time.Date(2026, 3, 16, 2, 30, 0, 0, time.UTC)

// run runs a command line inside the test's process, as on a terminal of 80 columns
// without colours.
func run(args ...string) (status int, stdout, stderr string) {
	var out, err strings.Builder
	s := Streams{In: strings.NewReader(""), Out: &out, Err: &err, Now: func() time.Time { return exampleMoment }, Width: 80}
	status = Run(context.Background(), s, args)
	return status, out.String(), err.String()
}

// arguments splits a command line at spaces outside quotes, up to a pipe.
func arguments(line string) []string {
	var args []string
	for _, m := range argument.FindAllString(line, -1) {
		if m == "|" || m == "#" {
			break
		}
		args = append(args, strings.Trim(m, `"'`))
	}
	return args
}

var argument = regexp.MustCompile(`"[^"]*"|'[^']*'|\S+`)

// exampleFolder is a folder with a plan and logs, as the examples in the help
// take it.
func exampleFolder(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	for from, to := range map[string]string{"plan.yaml": "plan.yaml", "observations.csv.gz": "logs/heard.csv.gz"} {
		data, err := os.ReadFile(filepath.Join("../../../../examples/aysen", from))
		if err != nil {
			t.Fatal(err)
		}
		path := filepath.Join(dir, to)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.WriteFile(filepath.Join(dir, "heard.csv"), []byte(
		"time,receiver,sender,snr_db,frequency_hz\n2026-03-16T02:00:00Z,MILL,HARBOR,-9,3651000\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	return dir
}

// Every example in the help runs.
func TestHelpExamplesRun(t *testing.T) {
	dir := exampleFolder(t)
	t.Chdir(dir)
	ran := 0
	var visit func(*cobra.Command)
	visit = func(cmd *cobra.Command) {
		for line := range strings.SplitSeq(cmd.Example, "\n") {
			args := arguments(strings.TrimSpace(line))
			if len(args) == 0 {
				continue
			}
			if args[0] != "farhop" {
				t.Errorf("%s: example %q doesn't start with farhop", cmd.Name(), line)
				continue
			}
			_ = os.RemoveAll("mynet")
			status, _, stderr := run(args[1:]...)
			if status != exitDone && status != exitEmpty {
				t.Errorf("%s\nexit %d: %s", line, status, stderr)
			}
			ran++
		}
		for _, sub := range cmd.Commands() {
			if sub.Name() != "completion" && sub.Name() != "help" {
				visit(sub)
			}
		}
	}
	visit(newRoot(Streams{}))
	if ran < 15 {
		t.Errorf("only %d examples were found", ran)
	}
}

// The README's farhop commands run, and the output printed beside a command is
// what that command prints.
func TestReadme(t *testing.T) {
	data, err := os.ReadFile("../../../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	folder := exampleFolder(t)
	t.Chdir("../../../..")
	shown := regexp.MustCompile("(?s)<!-- output: go run ./cmd/farhop (.*?) -->\n```\n(.*?)```")
	blocks := shown.FindAllStringSubmatch(string(data), -1)
	if len(blocks) == 0 {
		t.Error("no output is shown")
	}
	text := string(data)
	for _, b := range blocks {
		status, stdout, stderr := run(arguments(b[1])...)
		if *update {
			shown := strings.Replace(b[0], "```\n"+b[2]+"```", "```\n"+stdout+"```", 1)
			text = strings.Replace(text, b[0], shown, 1)
			continue
		}
		if status != exitDone {
			t.Errorf("%s: exit %d: %s", b[1], status, stderr)
		}
		if stdout != b[2] {
			t.Errorf("%s prints\n%s\nbut the README shows\n%s", b[1], stdout, b[2])
		}
	}
	if *update {
		if err := os.WriteFile("README.md", []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	t.Chdir(folder)
	commands := regexp.MustCompile("(?m)^(?:.*`)?(farhop [a-z][^`\n]*)")
	ran := 0
	for _, m := range commands.FindAllStringSubmatch(string(data), -1) {
		args := arguments(m[1])
		if strings.Contains(m[1], "COMMAND") || args[1] == "completion" {
			continue
		}
		status, _, stderr := run(args[1:]...)
		if status != exitDone && status != exitEmpty {
			if strings.Contains(stderr, "is not empty") { // the same folder twice
				continue
			}
			t.Errorf("%s\nexit %d: %s", m[1], status, stderr)
		}
		ran++
	}
	if ran < 8 {
		t.Errorf("only %d commands were found", ran)
	}
}

// Stations of the plan complete, by their first letters, once each.
func TestCompletionKnowsStations(t *testing.T) {
	t.Chdir(exampleFolder(t))
	_, stdout, _ := run("__complete", "route", "HARBOR", "M")
	for _, want := range []string{"MEADOW\n", "MILL\n"} {
		if !strings.Contains(stdout, want) {
			t.Errorf("%q is missing in %q", want, stdout)
		}
	}
	if strings.Contains(stdout, "HARBOR") {
		t.Errorf("HARBOR is offered again: %q", stdout)
	}
}
