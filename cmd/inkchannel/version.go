package main

import (
	"cmp"
	_ "embed"
	"fmt"
	"runtime/debug"
	"strings"

	"github.com/twpayne/go-geos"
	"gocv.io/x/gocv"
)

// release is the program's version.
//
//go:embed package/VERSION
var release string

// commit is what the Makefile says it was built from, empty if it was built without.
var commit string

// version tells the program's version, the commit it was built from, and what it runs on.
func version() string {
	from, compiler := cmp.Or(commit, "unknown"), "Go"
	if info, ok := debug.ReadBuildInfo(); ok {
		compiler = info.GoVersion
		for _, s := range info.Settings {
			if s.Key == "vcs.revision" && commit == "" {
				from = s.Value
			}
		}
	}
	return fmt.Sprintf(
		"%s (commit %s; %s, OpenCV %s, GEOS %d.%d.%d)", strings.TrimSpace(release), from, compiler, gocv.OpenCVVersion(),
		geos.VersionMajor, geos.VersionMinor, geos.VersionPatch,
	)
}
