// Package outside finds the reference tools that tests compare with.
package outside

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// packages are the Debian packages that bring a tool or a module of Python.
func packages() map[string]string {
	return map[string]string{
		"admesh": "admesh", "xmllint": "libxml2-utils", "pdftoppm": "poppler-utils", "pdftotext": "poppler-utils", "chromium": "chromium",
		"node": "nodejs", "make": "make", "python3": "python3",
		"skimage": "python3-skimage", "cv2": "python3-opencv", "shapely": "python3-shapely",
		"PIL": "python3-pil", "ezdxf": "python3-ezdxf", "scipy": "python3-scipy",
	}
}

// Tool returns the path of a program on PATH. A test without it fails, with the
// command that installs it.
func Tool(t testing.TB, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		t.Fatalf("%s is not on PATH; install it: apt-get install %s, or make test-deps for all", name, packages()[name])
	}
	return path
}

// Python returns the first python3 on PATH that has the modules. A test without one
// fails, with the command that installs them.
func Python(t testing.TB, modules ...string) string {
	t.Helper()
	imports := "import " + strings.Join(append([]string{"sys"}, modules...), ", ")
	for _, dir := range filepath.SplitList(os.Getenv("PATH")) {
		path := filepath.Join(dir, "python3")
		if info, err := os.Stat(path); err != nil || info.IsDir() {
			continue
		}
		if exec.Command(path, "-c", imports).Run() == nil {
			return path
		}
	}
	var need []string
	for _, m := range modules {
		need = append(need, packages()[m])
	}
	t.Fatalf("no python3 on PATH has %s; install: apt-get install python3 %s, or make test-deps for all",
		strings.Join(modules, " and "), strings.Join(need, " "))
	return ""
}
