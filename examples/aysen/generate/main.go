// Command generate writes the worked example's plan and observations anew from
// the scenario in farhop/examples/aysen. It is run from the repository's root:
//
//	go run ./examples/aysen/generate
//
// The same scenario gives the same rows on every run; the compressed bytes may
// differ between Go versions.
package main

import (
	"compress/gzip"
	"flag"
	"fmt"
	"os"
	"path/filepath"

	"farhop/examples/aysen"
)

func main() {
	dir := flag.String("dir", filepath.Join("examples", "aysen"), "folder to write to")
	flag.Parse()
	if err := run(*dir); err != nil {
		fmt.Fprintln(os.Stderr, "generate:", err)
		os.Exit(1)
	}
}

func run(dir string) error {
	scenario := aysen.New()
	plan, err := scenario.Plan()
	if err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(dir, "plan.yaml"), plan, 0o644); err != nil {
		return err
	}
	truth, err := aysen.NewTruth(scenario)
	if err != nil {
		return err
	}
	rows := truth.Observations()
	path := filepath.Join(dir, "observations.csv.gz")
	if err := write(path, rows); err != nil {
		return err
	}
	fmt.Fprintf(os.Stderr, "generate: %d reports with seed %d in %s\n", len(rows), scenario.Seed, path)
	return nil
}

// write compresses the rows into a file. The header carries no time, so that
// equal rows give equal bytes.
func write(path string, rows []aysen.Row) (err error) {
	file, err := os.Create(path)
	if err != nil {
		return err
	}
	defer func() {
		if closed := file.Close(); err == nil {
			err = closed
		}
	}()
	packed, err := gzip.NewWriterLevel(file, gzip.BestCompression)
	if err != nil {
		return err
	}
	if err := aysen.WriteCSV(packed, rows); err != nil {
		return err
	}
	return packed.Close()
}
