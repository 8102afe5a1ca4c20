// Package cli is the command line: the cobra tree, one file a command, and the
// exit statuses. It holds no planning of its own.
package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime"
	"strconv"
	"time"

	"golang.org/x/term"

	"farhop/cmd/farhop/internal/app"
)

// Exit statuses.
const (
	exitDone        = 0
	exitFailed      = 1   // could not do it
	exitUsage       = 2   // asked wrongly
	exitEmpty       = 3   // done, but the answer is empty or too much input was unusable
	exitInterrupted = 130 // stopped by the operator
)

// Streams is where a command reads and writes, and what it knows of the
// terminal and the clock.
type Streams struct {
	In       io.Reader
	Out, Err io.Writer
	Now      func() time.Time
	Width    int  // columns to align text for, 0 = Out is no terminal
	Colour   bool // Out is a terminal that may be coloured
	Terminal bool // Err is a terminal: progress is welcome
}

// Main runs the command line of the process and returns its exit status.
func Main() int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	return Run(ctx, processStreams(), os.Args[1:])
}

// processStreams are those of the process. An exported COLUMNS counts as a terminal
// of that width, as for other programs.
func processStreams() Streams {
	kind := os.Getenv("TERM")
	smart := kind != "dumb" && kind != "" || runtime.GOOS == "windows"
	s := Streams{In: os.Stdin, Out: os.Stdout, Err: os.Stderr, Now: time.Now, Terminal: smart && term.IsTerminal(int(os.Stderr.Fd()))}
	if w, err := strconv.Atoi(os.Getenv("COLUMNS")); err == nil && w > 0 {
		s.Width = w
	}
	if !term.IsTerminal(int(os.Stdout.Fd())) {
		return s
	}
	if w, _, err := term.GetSize(int(os.Stdout.Fd())); err == nil && w > 0 {
		s.Width = w
	}
	if s.Width == 0 {
		s.Width = 80
	}
	s.Colour = smart && os.Getenv("NO_COLOR") == "" && (runtime.GOOS != "windows" || os.Getenv("WT_SESSION") != "")
	return s
}

// Run runs one command line and returns its exit status.
func Run(ctx context.Context, s Streams, args []string) int {
	root := newRoot(s, args...)
	root.SetArgs(args)
	root.SetIn(s.In)
	root.SetOut(s.Out)
	root.SetErr(s.Err)
	asked, err := root.ExecuteContextC(ctx)
	if err == nil {
		return exitDone
	}
	code := exitCode(err)
	if message := err.Error(); message != "" {
		fmt.Fprintln(s.Err, "farhop: "+message)
	}
	if code == exitUsage {
		fmt.Fprintln(s.Err, "Help: "+asked.CommandPath()+" --help")
	}
	return code
}

// exitCode is the one place where kinds of error become exit statuses.
func exitCode(err error) int {
	var usage *app.UsageError
	var empty *app.EmptyError
	switch {
	case errors.Is(err, context.Canceled):
		return exitInterrupted
	case errors.As(err, &usage):
		return exitUsage
	case errors.As(err, &empty):
		return exitEmpty
	}
	return exitFailed
}
