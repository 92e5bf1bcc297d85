package sheetcsv

import (
	"encoding/json"
	"io"
	"strings"
)

// Package describes tables that lie beside each other, for WritePackage.
type Package struct {
	Name, Title, Doc string
	Tables           []Table
}

// Table describes one file.
type Table struct {
	Name, Doc string // the file is the name and .csv
	Columns   []Column
	Key       []string // the columns that together name a record
	Joins     []Join
}

// Join says that the cells of a column stand in the key of a table, whose key is one column.
type Join struct{ Column, Table, Key string }

// units are the endings of names that say in what a number is.
var units = []struct{ ending, unit string }{
	{"cd_m2", "cd/m²"}, {"g_m2", "g/m²"}, {"m2", "m²"}, {"mm_s", "mm/s"}, {"mm", "mm"}, {"ml", "ml"}, {"s", "s"}, {"c", "°C"}, {"h", "h"},
	{"days", "d"}, {"px", "px"}, {"stops", "stop"}, {"lat", "°"}, {"lon", "°"}, {"lux", "lx"}, {"ev", "EV"}, {"ev100", "EV"},
}

// Unit is the unit that the name of a column or field tells, "" for none. A stop is a doubling: log2 of an exposure.
func Unit(name string) string {
	for _, u := range units {
		if strings.HasSuffix("_"+name, "_"+u.ending) {
			return u.unit
		}
	}
	return ""
}

type (
	descriptor struct {
		Schema    string     `json:"$schema"`
		Name      string     `json:"name"`
		Title     string     `json:"title"`
		Doc       string     `json:"description"`
		Resources []resource `json:"resources"`
	}
	resource struct {
		Name      string      `json:"name"`
		Path      string      `json:"path"`
		Doc       string      `json:"description"`
		Type      string      `json:"type"`
		Format    string      `json:"format"`
		MediaType string      `json:"mediatype"`
		Encoding  string      `json:"encoding"`
		Dialect   dialect     `json:"dialect"`
		Schema    tableSchema `json:"schema"`
	}
	dialect struct {
		Delimiter      string `json:"delimiter"`
		LineTerminator string `json:"lineTerminator"`
		QuoteChar      string `json:"quoteChar"`
		DoubleQuote    bool   `json:"doubleQuote"`
		Header         bool   `json:"header"`
	}
	tableSchema struct {
		Fields      []field      `json:"fields"`
		Missing     []string     `json:"missingValues"`
		PrimaryKey  []string     `json:"primaryKey"`
		ForeignKeys []foreignKey `json:"foreignKeys,omitempty"`
	}
	field struct {
		Name        string      `json:"name"`
		Type        string      `json:"type"`
		Doc         string      `json:"description"`
		Unit        string      `json:"unit,omitempty"`
		TrueValues  []string    `json:"trueValues,omitempty"`
		FalseValues []string    `json:"falseValues,omitempty"`
		Constraints *constraint `json:"constraints,omitempty"`
	}
	constraint struct {
		Required bool   `json:"required,omitempty"`
		Pattern  string `json:"pattern,omitempty"`
	}
	foreignKey struct {
		Fields    []string  `json:"fields"`
		Reference reference `json:"reference"`
	}
	reference struct {
		Resource string   `json:"resource,omitempty"` // left out for the table itself
		Fields   []string `json:"fields"`
	}
)

// WritePackage writes the descriptor of some tables, the file datapackage.json
// of the Data Package standard, version 2 (Table Schema): each column with its
// type, its unit and what it holds, the key of each table, and which columns
// join which tables.
func WritePackage(w io.Writer, p Package) error {
	out := descriptor{Schema: "https://datapackage.org/profiles/2.0/datapackage.json", Name: p.Name, Title: p.Title, Doc: p.Doc, Resources: []resource{}}
	for _, t := range p.Tables {
		r := resource{Name: t.Name, Path: t.Name + ".csv", Doc: t.Doc, Type: "table", Format: "csv", MediaType: "text/csv", Encoding: "utf-8",
			Dialect: dialect{Delimiter: ",", LineTerminator: "\r\n", QuoteChar: `"`, DoubleQuote: true, Header: true},
			Schema:  tableSchema{Missing: []string{""}, PrimaryKey: t.Key}}
		for _, c := range t.Columns {
			r.Schema.Fields = append(r.Schema.Fields, fieldOf(c, t.Key))
		}
		for _, j := range t.Joins {
			to := reference{j.Table, []string{j.Key}}
			if j.Table == t.Name {
				to.Resource = ""
			}
			r.Schema.ForeignKeys = append(r.Schema.ForeignKeys, foreignKey{[]string{j.Column}, to})
		}
		out.Resources = append(out.Resources, r)
	}
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(out)
}

// fieldOf is a column in the types of Table Schema. A day may end at its month, which none of them takes: it is a string
// of that form. yes is true, and an empty cell, which is missing, stands for no.
func fieldOf(c Column, key []string) field {
	f := field{Name: c.Name, Doc: c.Doc}
	for _, k := range key {
		if k == c.Name {
			f.Constraints = &constraint{Required: true}
		}
	}
	switch c.Type {
	case Number:
		f.Type, f.Unit = "number", Unit(c.Name)
	case Integer:
		f.Type, f.Unit = "integer", Unit(c.Name)
	case Time:
		f.Type = "datetime"
	case Day:
		f.Type, f.Constraints = "string", &constraint{Pattern: dayForm}
	case Flag:
		f.Type, f.TrueValues, f.FalseValues = "boolean", []string{"yes"}, []string{"no"}
	default:
		f.Type = "string"
	}
	return f
}
