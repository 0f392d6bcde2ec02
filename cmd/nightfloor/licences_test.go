package main

import (
	"bytes"
	"flag"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "rewrite licences.txt and the golden files in testdata/columns-80")

// The licences that are printed are those of the modules that are linked, on every
// system, at their versions.
func TestLicences(t *testing.T) {
	modules := linkedModules(t)
	if *update {
		licences = licencesOf(t, modules)
		if err := os.WriteFile("licences.txt", []byte(licences), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	status, out, errOut := command(t, "licences")
	if status != 0 || errOut != "" {
		t.Fatalf("status %d: %s", status, errOut)
	}
	var printed, linked []string
	for _, m := range regexp.MustCompile(`(?m)^== (\S+ v\S+)$`).FindAllStringSubmatch(out, -1) {
		printed = append(printed, m[1])
	}
	for _, m := range modules {
		linked = append(linked, m.name)
	}
	if len(linked) < 10 || !slices.Equal(printed, linked) {
		t.Errorf("printed are\n%s\nlinked are\n%s\nrun go test ./cmd/nightfloor -run Licences -update", strings.Join(printed, "\n"), strings.Join(linked, "\n"))
	}
	for _, part := range []string{"GNU General Public\nLicense, version 2 or later", "== Go's standard library\n\n-- LICENSE\n", "-- ECHARTS-LICENSE.txt\n"} {
		if n := strings.Count(out, part); n != 1 {
			t.Errorf("%q stands there %d times, want once", part, n)
		}
	}
}

// A module is linked into the program. Name and version head its licences.
type module struct{ name, folder string }

// linkedModules gives the modules of the program on all systems, in order.
func linkedModules(t *testing.T) []module {
	t.Helper()
	var all []module
	for _, system := range []string{"linux", "darwin", "windows"} {
		cmd := exec.Command("go", "list", "-deps", "-f", "{{with .Module}}{{if not .Main}}{{.Path}} {{.Version}}\t{{.Dir}}{{end}}{{end}}", ".")
		cmd.Env = append(os.Environ(), "GOOS="+system, "CGO_ENABLED=0")
		out, err := cmd.Output()
		if err != nil {
			t.Fatal(err)
		}
		for line := range strings.Lines(string(out)) {
			if name, folder, ok := strings.Cut(strings.TrimSpace(line), "\t"); ok {
				all = append(all, module{name, folder})
			}
		}
	}
	slices.SortFunc(all, func(a, b module) int { return strings.Compare(a.name, b.name) })
	return slices.Compact(all)
}

// licencesOf gives the licences of modules, of Go's own library and of the charts in the page.
func licencesOf(t *testing.T, modules []module) string {
	t.Helper()
	root, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		t.Fatal(err)
	}
	modules = append(slices.Clone(modules), module{"Go's standard library", strings.TrimSpace(string(root))},
		module{"Apache ECharts, ZRender and tslib in the report's page", filepath.Join("..", "..", "reports", "page", "assets")})
	var text bytes.Buffer
	for _, m := range modules {
		fmt.Fprintf(&text, "\n== %s\n", m.name)
		files := licenceFiles(t, m.folder)
		if len(files) == 0 {
			t.Fatalf("%s: no licence in %s", m.name, m.folder)
		}
		for _, file := range files {
			content, err := os.ReadFile(filepath.Join(m.folder, file))
			if err != nil {
				t.Fatal(err)
			}
			content = bytes.ReplaceAll(content, []byte("\r\n"), []byte("\n"))
			fmt.Fprintf(&text, "\n-- %s\n\n%s\n", filepath.ToSlash(file), bytes.Trim(content, "\n"))
		}
	}
	return text.String()
}

// licenceFile matches the files that hold licences and notices, and folders of them.
var licenceFile = regexp.MustCompile(`(?i)(licen[cs]e|copying|notice|patents)`)

// licenceFiles gives the files in a module's folder that hold licences.
func licenceFiles(t *testing.T, folder string) (files []string) {
	t.Helper()
	err := fs.WalkDir(os.DirFS(folder), ".", func(path string, d fs.DirEntry, err error) error {
		top, _, below := strings.Cut(path, "/")
		switch {
		case err != nil || path == ".":
			return err
		case !licenceFile.MatchString(top) || !below && strings.HasSuffix(top, ".go"):
			if d.IsDir() {
				return fs.SkipDir
			}
		case !d.IsDir():
			files = append(files, path)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}
