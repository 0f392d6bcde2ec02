// Command licences writes what nightfloor licences prints: the licences of the
// modules that are linked into the program on any system it is built for, of Go's
// own library and of the charts in the page. It is run by go generate ./cmd/nightfloor,
// in that folder.
package main

import (
	"bytes"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
)

// systems are those that the program is built for.
var systems = []string{"linux", "darwin", "windows"}

// A module is linked into the program.
type module struct{ path, version, folder string }

// name is what heads its licences.
func (m module) name() string { return m.path + " " + m.version }

func main() {
	if err := write("licences.txt"); err != nil {
		fmt.Fprintln(os.Stderr, "licences:", err)
		os.Exit(1)
	}
}

func write(path string) error {
	modules, err := linked()
	if err != nil {
		return err
	}
	root, err := output(nil, "go", "env", "GOROOT")
	if err != nil {
		return err
	}
	modules = append(modules, module{"Go's standard library", "", strings.TrimSpace(root)},
		module{"Apache ECharts, ZRender and tslib in the report's page", "", filepath.Join("..", "..", "reports", "page", "assets")})
	var text bytes.Buffer
	for _, m := range modules {
		if err := m.licences(&text); err != nil {
			return err
		}
	}
	return os.WriteFile(path, text.Bytes(), 0o644)
}

// linked gives the modules of the program on all systems, in order.
func linked() ([]module, error) {
	var all []module
	for _, system := range systems {
		out, err := output([]string{"GOOS=" + system, "CGO_ENABLED=0"}, "go", "list", "-deps",
			"-f", `{{with .Module}}{{if not .Main}}{{.Path}} {{.Version}} {{.Dir}}{{end}}{{end}}`, ".")
		if err != nil {
			return nil, err
		}
		for line := range strings.Lines(out) {
			if part := strings.SplitN(strings.TrimSpace(line), " ", 3); len(part) == 3 {
				all = append(all, module{part[0], part[1], part[2]})
			}
		}
	}
	slices.SortFunc(all, func(a, b module) int { return strings.Compare(a.name(), b.name()) })
	return slices.Compact(all), nil
}

// output gives what a program prints.
func output(env []string, argv ...string) (string, error) {
	cmd := exec.Command(argv[0], argv[1:]...)
	cmd.Env, cmd.Stderr = append(os.Environ(), env...), os.Stderr
	out, err := cmd.Output()
	if err != nil {
		return "", fmt.Errorf("%v: %w", argv, err)
	}
	return string(out), nil
}

// texts matches the files that hold licences and notices, and folders of them.
var texts = regexp.MustCompile(`(?i)(licen[cs]e|copying|notice|patents)`)

// licences writes all texts of a module.
func (m module) licences(text *bytes.Buffer) error {
	var files []string
	entries, err := os.ReadDir(m.folder)
	if err != nil {
		return err
	}
	for _, e := range entries {
		if !texts.MatchString(e.Name()) || strings.HasSuffix(e.Name(), ".go") {
			continue
		}
		err := filepath.WalkDir(filepath.Join(m.folder, e.Name()), func(path string, d fs.DirEntry, err error) error {
			if err == nil && !d.IsDir() {
				files = append(files, path)
			}
			return err
		})
		if err != nil {
			return err
		}
	}
	if len(files) == 0 {
		return fmt.Errorf("%s: no licence in %s", m.name(), m.folder)
	}
	fmt.Fprintf(text, "\n== %s\n", strings.TrimSpace(m.name()))
	for _, file := range files {
		content, err := os.ReadFile(file)
		if err != nil {
			return err
		}
		name, err := filepath.Rel(m.folder, file)
		if err != nil {
			return err
		}
		content = bytes.ReplaceAll(content, []byte("\r\n"), []byte("\n"))
		fmt.Fprintf(text, "\n-- %s\n\n%s\n", filepath.ToSlash(name), bytes.Trim(content, "\n"))
	}
	return nil
}
