package main

import (
	"bytes"
	"debug/buildinfo"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"github.com/google/licensecheck"
)

// part is something of others that is inside the program.
type part struct {
	name, version string
	licence       string            // by SPDX's names; all of its texts
	texts         map[string]string // of the licence, by file name
	home          string            // where its source is had from, "" = not told
}

// alegreya is the version of the typeface that stands among the program's own files, for no module gives it.
const alegreya = "2.009"

// inside lists the modules that the program is built of, in the order of their names, Go's own library first and a
// typeface that is no module last.
func inside(root string) ([]part, error) {
	list, err := output(root, nil, "go", "list", "-deps", "-f", "{{with .Module}}{{if not .Main}}{{.Path}} {{.Version}} {{.Dir}}{{end}}{{end}}", "./cmd/traybook")
	if err != nil {
		return nil, err
	}
	goroot, err := output(root, nil, "go", "env", "GOROOT")
	if err != nil {
		return nil, err
	}
	goversion, err := output(root, nil, "go", "env", "GOVERSION")
	if err != nil {
		return nil, err
	}
	lines := []string{"the standard library of Go " + strings.TrimPrefix(goversion, "go") + " " + goroot}
	seen := map[string]bool{"": true}
	for line := range strings.Lines(list) {
		if line = strings.TrimSpace(line); !seen[line] {
			seen[line] = true
			lines = append(lines, line)
		}
	}
	slices.Sort(lines[1:])
	lines = append(lines, fmt.Sprintf("the typeface Alegreya %s %s", alegreya, filepath.Join(root, "export/page/alegreya")))
	var out []part
	for _, line := range lines {
		fields := strings.Fields(line)
		n := len(fields)
		p := part{name: strings.Join(fields[:n-2], " "), version: fields[n-2], texts: map[string]string{}}
		if n == 3 {
			p.home = "https://" + p.name
		}
		if err := p.read(fields[n-1]); err != nil {
			return nil, err
		}
		out = append(out, p)
	}
	return out, nil
}

// What a file's text is where no known wording matches the whole of it.
var byHand = map[string]string{"LICENSE-DejaVu": "Bitstream-Vera"} // the licence of the typefaces, with its further hands

var licenceFile = regexp.MustCompile(`(?i)^(licen[cs]e|copying|notice|patents)`)

// read finds the texts of a part's licence in its folder and what they are.
func (p *part) read(dir string) error {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return err
	}
	var names []string
	for _, e := range entries {
		if e.IsDir() || !licenceFile.MatchString(e.Name()) {
			continue
		}
		text, err := os.ReadFile(filepath.Join(dir, e.Name()))
		if err != nil {
			return err
		}
		p.texts[e.Name()] = strings.TrimSpace(strings.ReplaceAll(string(text), "\r\n", "\n"))
		if strings.HasPrefix(e.Name(), "PATENTS") {
			continue // grants more, and is no licence by itself
		}
		found := []string{byHand[e.Name()]}
		if found[0] == "" {
			found = nil
			for _, m := range licensecheck.Scan(text).Match {
				found = append(found, m.ID)
			}
		}
		if len(found) == 0 {
			return fmt.Errorf("%s of %s %s is no licence that is known: read it, and name it in byHand", e.Name(), p.name, p.version)
		}
		names = append(names, found...)
	}
	slices.Sort(names)
	names = slices.Compact(names)
	if len(names) == 0 {
		return fmt.Errorf("%s %s bears no licence", p.name, p.version)
	}
	p.licence = strings.Join(names, " AND ")
	return nil
}

// licences are the texts of all that is inside, for the program to tell.
func licences(root string) (string, error) {
	parts, err := inside(root)
	if err != nil {
		return "", err
	}
	var out strings.Builder
	out.WriteString("traybook is built of the following, each under its licence. SQLite, which the store\nis, is in the public domain.\n")
	for _, p := range parts {
		fmt.Fprintf(&out, "\n\n== %s %s: %s\n", p.name, p.version, p.licence)
		for _, name := range sortedKeys(p.texts) {
			fmt.Fprintf(&out, "\n-- %s\n\n%s\n", name, p.texts[name])
		}
	}
	return out.String(), nil
}

// parts is the list of what is inside one program, as SPDX 2.3 writes it.
func (r *release) parts(t target, program []byte) ([]byte, error) {
	built, err := buildinfo.Read(bytes.NewReader(program))
	if err != nil {
		return nil, err
	}
	known, err := inside(r.source)
	if err != nil {
		return nil, err
	}
	if len(built.Deps) != len(known)-2 {
		return nil, fmt.Errorf("the program names %d modules, and %d were found", len(built.Deps), len(known)-2)
	}
	library := part{name: "musl", licence: "MIT", home: "https://musl.libc.org"}
	query := t.libraryPackage() + ":" + t.machine
	if t.musl == "" {
		library = part{name: "mingw-w64", licence: "ZPL-2.1", home: "https://www.mingw-w64.org"}
		query = t.libraryPackage()
	}
	if library.version, err = output(r.work, nil, "dpkg-query", "-W", "-f", "${Version}", query); err != nil {
		return nil, err
	}
	known = append(known, library)
	type object = map[string]any
	of := func(id, name, version, licence, home string) object {
		if home == "" {
			home = "NOASSERTION"
		}
		return object{"SPDXID": id, "name": name, "versionInfo": version, "downloadLocation": home, "filesAnalyzed": false,
			"licenseConcluded": licence, "licenseDeclared": licence, "copyrightText": "NOASSERTION"}
	}
	packages := []object{of("SPDXRef-traybook", "traybook", r.version, "NOASSERTION", "")}
	relations := []object{{"spdxElementId": "SPDXRef-DOCUMENT", "relationshipType": "DESCRIBES", "relatedSpdxElement": "SPDXRef-traybook"}}
	for i, p := range known {
		id := fmt.Sprintf("SPDXRef-part-%d", i+1)
		packages = append(packages, of(id, p.name, p.version, p.licence, p.home))
		relations = append(relations, object{"spdxElementId": "SPDXRef-traybook", "relationshipType": "CONTAINS", "relatedSpdxElement": id})
	}
	name := fmt.Sprintf("traybook-%s-%s-%s", r.version, t.system, t.machine)
	return json.MarshalIndent(object{
		"spdxVersion": "SPDX-2.3", "dataLicense": "CC0-1.0", "SPDXID": "SPDXRef-DOCUMENT", "name": name,
		"documentNamespace": "urn:traybook:" + name + ":" + r.commit,
		"creationInfo":      object{"created": r.at.Format("2006-01-02T15:04:05Z"), "creators": []string{"Tool: traybook-release"}},
		"packages":          packages, "relationships": relations,
	}, "", " ")
}
