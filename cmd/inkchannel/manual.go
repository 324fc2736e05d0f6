package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/urfave/cli/v2"
)

// manualSection is that of the manual for commands of users.
const manualSection = 1

// printManual writes the manual page, in the form of man.
func printManual(c *cli.Context) error {
	text, err := c.App.ToManWithSection(manualSection)
	if err == nil {
		_, err = io.WriteString(c.App.Writer, text)
	}
	return err
}

// printCompletion writes what bash is to complete: commands, and the flags of each.
func printCompletion(c *cli.Context) error {
	var names []string
	var cases strings.Builder
	for _, k := range c.App.Commands {
		if k.Hidden {
			continue
		}
		names = append(names, k.Name)
		var flags []string
		for _, f := range k.Flags {
			flags = append(flags, "--"+f.Names()[0])
		}
		fmt.Fprintf(&cases, "    %s) words=\"%s\" ;;\n", k.Name, strings.Join(flags, " "))
	}
	_, err := fmt.Fprintf(c.App.Writer, completion, strings.Join(names, " "), cases.String())
	return err
}

// completion completes commands, then flags, and files for all else.
const completion = `# bash completion of inkchannel
_inkchannel() {
  local words="" word="${COMP_WORDS[COMP_CWORD]}"
  if [ "$COMP_CWORD" = 1 ]; then words="%s"; else case "${COMP_WORDS[1]}" in
%s  esac; fi
  case "$COMP_CWORD$word" in
    1*|*--*) mapfile -t COMPREPLY < <(compgen -W "$words" -- "$word") ;;
  esac
}
complete -o default -F _inkchannel inkchannel
`
