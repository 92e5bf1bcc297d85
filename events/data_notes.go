package events

import (
	"bytes"
	"encoding/json"
	"fmt"
)

// SitterConsentedData is a sitter's word on what may be done with the picture. Withdrawn takes it back.
type SitterConsentedData struct {
	_         struct{} `is:"stream=sitter"`
	Sitter    string   `json:"sitter" is:"sitter"`
	To        string   `json:"to" is:"one=keep|show|publish"`
	Until     string   `json:"until,omitempty" is:"date"`
	Withdrawn *bool    `json:"withdrawn,omitempty" is:"flag"`
	Text      string   `json:"text,omitempty" is:"text"`
}

// SitterErasedData says that a sitter's name and contact were removed from the book. Salt and Digest are the stone by
// which the name is known again (names.Stone); what was erased before stones were laid has neither.
type SitterErasedData struct {
	_      struct{} `is:"stream=sitter"`
	Sitter string   `json:"sitter" is:"sitter"`
	Salt   string   `json:"salt,omitempty" is:"hex32"`
	Digest string   `json:"digest,omitempty" is:"hex64"`
}

// MomentMarkedData is a stamp of the clock, to be filled in later.
type MomentMarkedData struct {
	_    struct{} `is:"stream=session|book"`
	Text string   `json:"text,omitempty" is:"text"`
	Carried
}

// NoteWrittenData is a remark about anything that has a name or an id.
type NoteWrittenData struct {
	_     struct{} `is:"stream=about"`
	About string   `json:"about" is:"any"`
	Text  string   `json:"text" is:"text"`
	Carried
}

// EntryAmendedData sets fields of an earlier entry anew; JSON null removes an optional one.
type EntryAmendedData struct {
	_     struct{} `is:"stream=entry"`
	Entry string   `json:"entry" is:"entry"`
	Set   Set      `json:"set" is:"set"`
	Why   string   `json:"why,omitempty" is:"text"`
}

// EntryVoidedData takes back one entry, or every entry of a batch.
type EntryVoidedData struct {
	_     struct{} `is:"stream=entry|book"`
	Entry string   `json:"entry,omitempty" is:"entry"`
	Batch string   `json:"batch,omitempty" is:"hex32"`
	Why   string   `json:"why,omitempty" is:"text"`
}

func (SitterConsentedData) Kind() Kind { return SitterConsented }
func (SitterErasedData) Kind() Kind    { return SitterErased }
func (MomentMarkedData) Kind() Kind    { return MomentMarked }
func (NoteWrittenData) Kind() Kind     { return NoteWritten }
func (EntryAmendedData) Kind() Kind    { return EntryAmended }
func (EntryVoidedData) Kind() Kind     { return EntryVoided }

// Set is the fields an amendment sets, in the order they were given.
type Set []SetField

// SetField is one of them; Value is JSON.
type SetField struct {
	Name  string
	Value json.RawMessage
}

// MarshalJSON writes the fields as one object, in their order.
func (s Set) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	b.WriteByte('{')
	for i, f := range s {
		if i > 0 {
			b.WriteByte(',')
		}
		b.Write(appendJSONString(nil, f.Name))
		b.WriteByte(':')
		if err := json.Compact(&b, f.Value); err != nil {
			return nil, err
		}
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}

// UnmarshalJSON reads the fields in their order; a field named twice is refused.
func (s *Set) UnmarshalJSON(raw []byte) error {
	members, err := objectMembers(raw)
	if err != nil {
		return fmt.Errorf("set: %w", err)
	}
	out := make(Set, 0, len(members))
	for _, m := range members {
		out = append(out, SetField{Name: m.name, Value: append(json.RawMessage(nil), m.value...)})
	}
	*s = out
	return nil
}
