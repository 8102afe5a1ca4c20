package examples_test

import (
	"compress/gzip"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"farhop/examples"
)

// Every folder here that holds a plan is an example, is listed, and has a page.
func TestEveryExampleIsListed(t *testing.T) {
	plans, err := filepath.Glob("*/" + examples.PlanFile)
	if err != nil || len(plans) == 0 {
		t.Fatalf("no plans found: %v", err)
	}
	names := slices.Sorted(slices.Values(examples.Names()))
	if len(plans) != len(names) {
		t.Errorf("%d plans for the names %v", len(plans), names)
	}
	for _, name := range names {
		files, err := examples.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, file := range []string{examples.PlanFile, examples.ReadmeFile} {
			want, err := os.ReadFile(filepath.Join(name, file))
			if err != nil {
				t.Fatal(err)
			}
			got, err := fs.ReadFile(files, file)
			if err != nil || string(got) != string(want) {
				t.Errorf("%s/%s is not what is embedded (%v)", name, file, err)
			}
			if file == examples.PlanFile && !strings.Contains(string(got), "invented") {
				t.Errorf("%s does not say that it is invented", name)
			}
		}
	}
}

func TestObservationsAreEmbedded(t *testing.T) {
	file, err := examples.FS().Open("aysen/" + examples.ObservationsFile)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	reader, err := gzip.NewReader(file)
	if err != nil {
		t.Fatal(err)
	}
	text, err := io.ReadAll(reader)
	if err != nil {
		t.Fatal(err)
	}
	if lines := strings.Count(string(text), "\n"); lines < 10_000 {
		t.Errorf("%d lines", lines)
	}
	if head, _, _ := strings.Cut(string(text), "\n"); !strings.HasPrefix(head, "time,receiver,sender,snr_db,") {
		t.Errorf("header %q", head)
	}
}

func TestOpenUnknown(t *testing.T) {
	if _, err := examples.Open("../aysen"); err == nil || !strings.Contains(err.Error(), "aysen, fixed") {
		t.Errorf("an unknown example gives %v", err)
	}
}
