// Command farhop plans short text messages over a net of HF stations that hear
// only some of one another: who can reach whom, through whom, how long it
// takes and how sure that is.
package main

import (
	"os"

	"farhop/cmd/farhop/internal/cli"
)

func main() { os.Exit(cli.Main()) }
