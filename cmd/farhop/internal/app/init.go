package app

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"farhop/cmd/farhop/internal/config"
	"farhop/cmd/farhop/internal/view"
	"farhop/examples"
)

// Init writes a starter plan and the worked example into an empty folder, or
// drafts a plan from a log when the request names one.
func Init(ctx context.Context, dir string, r Request, env Environment) (*view.Started, error) {
	if err := emptyFolder(dir); err != nil {
		return nil, err
	}
	if len(r.Observations)+len(r.Heard) > 0 {
		return draft(ctx, dir, r, env)
	}
	v := &view.Started{Folder: dir}
	plan := filepath.Join(dir, "plan.yaml")
	if err := os.WriteFile(plan, config.Starter(), 0o644); err != nil {
		return nil, err
	}
	v.Files = append(v.Files, view.StartedFile{Path: plan, What: "a commented plan to make your own"})
	for _, name := range examples.Names() {
		folder, err := examples.Open(name)
		if err != nil {
			return nil, err
		}
		target := filepath.Join(dir, "example-"+name)
		if err := os.CopyFS(target, folder); err != nil {
			return nil, err
		}
		v.Files = append(v.Files, view.StartedFile{Path: target, What: "a worked example, invented"})
	}
	example := filepath.Join(dir, "example-"+examples.Names()[0])
	flags := "--plan " + quoted(filepath.Join(example, "plan.yaml")) +
		" --observations " + quoted(filepath.Join(example, "observations.csv.gz")) + " --at newest"
	v.Next = []string{"farhop table HARBOR " + flags, "farhop check --plan " + quoted(plan)}
	return v, nil
}

// draft writes a plan drafted from a log.
func draft(ctx context.Context, dir string, r Request, env Environment) (*view.Started, error) {
	at, newest, err := r.moment(env.Now)
	if err != nil {
		return nil, err
	}
	log, err := readLog(ctx, r, env, at, newest)
	if err != nil {
		return nil, err
	}
	text, notes, err := config.Draft(log, config.DraftOptions{})
	if err != nil {
		return nil, err
	}
	plan := filepath.Join(dir, "plan.yaml")
	if err := os.WriteFile(plan, text, 0o644); err != nil {
		return nil, err
	}
	v := &view.Started{
		Folder: dir,
		Files:  []view.StartedFile{{Path: plan, What: "a plan drafted from the log; every guess in it is marked"}},
	}
	for _, n := range notes {
		v.Guesses = append(v.Guesses, view.Guess{Path: n.Path, Guess: n.Guess, Check: n.Check})
	}
	next := "farhop check --plan " + quoted(plan)
	for _, o := range r.Observations {
		next += " --observations " + quoted(o)
	}
	v.Next = []string{next}
	return v, nil
}

// emptyFolder makes the folder, or makes sure that it holds nothing.
func emptyFolder(dir string) error {
	entries, err := os.ReadDir(dir)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return os.MkdirAll(dir, 0o755)
	case err != nil:
		return err
	case len(entries) > 0:
		return fmt.Errorf("%s is not empty, and nothing in it is overwritten: name a new folder", dir)
	}
	return nil
}
