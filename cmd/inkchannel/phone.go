package main

import (
	"context"
	"fmt"
	"io"
	"net"
	"os"

	"golang.org/x/term"
	"rsc.io/qr"

	"inkchannel/cmd/inkchannel/desk"
)

// listenForPhone listens on the address by which others on the local network reach this computer.
func listenForPhone() (net.Listener, error) {
	// A UDP socket sends nothing when it connects; it only tells the address that would be used.
	// 192.0.2.1 is nobody's (RFC 5737).
	c, err := net.Dial("udp4", "192.0.2.1:9")
	if err != nil {
		return nil, fmt.Errorf("--%s: this computer is on no network: %v", flagPhone, err)
	}
	defer c.Close()
	host, _, err := net.SplitHostPort(c.LocalAddr().String())
	if err != nil {
		return nil, err
	}
	return net.Listen("tcp", net.JoinHostPort(host, "0"))
}

// servePhone serves the page for a phone, and says what is open and when it is closed.
func servePhone(ctx context.Context, to io.Writer, d *desk.Desk, l net.Listener) {
	address := "http://" + l.Addr().String() + d.PhonePath()
	fmt.Fprintf(
		to, "to send a photo from a phone on the same network, open %s on it; whoever knows this address can send one "+
			"photo, unencrypted, and nothing else; it closes after that, or after ten minutes\n", address,
	)
	if f, ok := to.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		if code, err := qr.Encode(address, qr.L); err == nil {
			printCode(to, code)
		}
	}
	if err := d.ServePhone(ctx, l); err != nil && ctx.Err() == nil {
		fmt.Fprintf(to, "the page for the phone failed: %v\n", err)
		return
	}
	fmt.Fprintln(to, "the page for the phone is closed")
}

// quiet is the white border, in modules, that a code needs (ISO/IEC 18004).
const quiet = 4

// printCode prints a code as half blocks, black on white whatever the terminal's colours.
func printCode(to io.Writer, code *qr.Code) {
	for y := -quiet; y < code.Size+quiet; y += 2 {
		fmt.Fprint(to, "\x1b[30;47m")
		for x := -quiet; x < code.Size+quiet; x++ {
			switch up, down := code.Black(x, y), code.Black(x, y+1); {
			case up && down:
				fmt.Fprint(to, "█")
			case up:
				fmt.Fprint(to, "▀")
			case down:
				fmt.Fprint(to, "▄")
			default:
				fmt.Fprint(to, " ")
			}
		}
		fmt.Fprintln(to, "\x1b[0m")
	}
}
