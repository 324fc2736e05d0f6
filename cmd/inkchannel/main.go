// Command inkchannel turns a phone photo of a pen drawing into a printable line
// sign.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"syscall"

	"github.com/urfave/cli/v2"

	"inkchannel/pipeline"
)

func main() {
	// A run lives for a second or two and holds a few large pictures; collect
	// early to keep the peak down.
	debug.SetGCPercent(50)
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := run(ctx, os.Args, os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}

// run is the whole command. It returns the exit code: 0, 1 for a photo or a
// folder it cannot work with, 2 for a command line it does not understand, 3 for
// a result that is in doubt where --strict asks for none.
func run(ctx context.Context, args []string, out, errOut io.Writer) int {
	app := newApp(pipeline.Table(), out, errOut)
	err := helpTopic(app, args)
	if err == nil {
		err = app.RunContext(ctx, flagsFirst(app, args))
	}
	if err == nil {
		return 0
	}
	if errors.Is(err, context.Canceled) {
		err = errors.New("stopped; nothing was written")
	}
	fmt.Fprintln(errOut, "inkchannel:", err)
	var u usageError
	if errors.As(err, &u) {
		return 2
	}
	var d strictError
	if errors.As(err, &d) {
		return 3
	}
	return 1
}

// helpTopic refuses to help with a command that there is not.
func helpTopic(app *cli.App, args []string) error {
	if len(args) < 3 || args[1] != "help" || app.Command(args[2]) != nil {
		return nil
	}
	return noCommand(args[2])
}

// noCommand is the error of a word that names no command.
func noCommand(word string) error {
	return usageError{fmt.Errorf("there is no command %q; see inkchannel help", word)}
}

// A usageError is a command line that is not understood.
type usageError struct{ error }

// A strictError is a result in doubt where --strict asks for none.
type strictError struct{ error }
