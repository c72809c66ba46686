package release

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"example.org/loudspeaker/speakerlib/report"
)

// The record's own format.
const (
	recordFormat  = "loudspeaker-release"
	recordVersion = 1
	maxRecord     = 8 << 20 // bytes
)

// recordJSON is the record of a release. Fields are pointers where a missing one must
// be told from an empty one.
type recordJSON struct {
	Format       string              `json:"format"`
	Version      int                 `json:"version"`
	State        string              `json:"state"`
	Revision     string              `json:"revision"`
	Date         string              `json:"date"`
	Coefficients string              `json:"coefficients_sha256"`
	Parent       string              `json:"parent_sha256"`
	Because      *report.Decision    `json:"because"`
	Frozen       string              `json:"frozen"`
	Signed       []report.Signature  `json:"signed"`
	Decisions    []report.Decision   `json:"decisions"`
	Requirements report.Requirements `json:"requirements"`
}

// WriteRecord writes what the release knows besides its coefficients, as JSON: state,
// revision, the SHA-256 sum of the coefficient document, the parent's, who signed,
// decisions and requirements. The document goes beside it as [Release.WriteDocument]
// writes it.
func (r *Release) WriteRecord(w io.Writer) error {
	out := recordJSON{
		Format: recordFormat, Version: recordVersion, State: r.record.state.String(), Revision: r.record.revision, Date: r.record.date,
		Coefficients: r.SHA256(), Parent: r.record.parent, Because: r.record.because, Frozen: r.record.frozen,
		Signed: append([]report.Signature{}, r.record.signed...), Decisions: append([]report.Decision{}, r.record.decisions...),
		Requirements: append(report.Requirements{}, r.record.requirements...),
	}
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(out); err != nil {
		return fmt.Errorf("release: %w", err)
	}
	_, err := w.Write(b.Bytes())
	return err
}

// WriteDocument writes the coefficient document, to the byte that the sum is of.
func (r *Release) WriteDocument(w io.Writer) error {
	_, err := w.Write(r.text)
	return err
}

// Read returns the release of a record and the document that stands beside it. It
// refuses a document that is not, to the byte, the one whose sum is in the record, and
// a frozen record that could not have been frozen; so what was frozen stays frozen
// from file to file.
func Read(recordFile, document io.Reader) (*Release, error) {
	text, err := io.ReadAll(io.LimitReader(recordFile, maxRecord+1))
	if err != nil {
		return nil, fmt.Errorf("release: record: %w", err)
	}
	if len(text) > maxRecord {
		return nil, fmt.Errorf("release: record has more than %d bytes, which is the most", maxRecord)
	}
	var in recordJSON
	dec := json.NewDecoder(bytes.NewReader(text))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&in); err != nil {
		return nil, fmt.Errorf("release: record: %w", err)
	}
	if _, err := dec.Token(); err != io.EOF {
		return nil, fmt.Errorf("release: record is followed by something, want its end")
	}
	if in.Format != recordFormat || in.Version != recordVersion {
		return nil, fmt.Errorf("release: record is %q version %d, want %q version %d", in.Format, in.Version, recordFormat, recordVersion)
	}
	rec := record{state: -1, revision: in.Revision, parent: in.Parent, because: in.Because}
	for i, s := range states {
		if s == in.State {
			rec.state = State(i)
		}
	}
	if rec.state < 0 {
		return nil, fmt.Errorf("release: state is %q, want one of %q", in.State, states)
	}
	if b, err := hex.DecodeString(in.Parent); err != nil || len(b) != 32 && len(b) != 0 || strings.ToLower(in.Parent) != in.Parent {
		return nil, fmt.Errorf("release: parent_sha256 is %q, want 64 lower-case hexadecimal digits, or none", in.Parent)
	}
	if in.Because != nil {
		if err := in.Because.Validate(); err != nil {
			return nil, fmt.Errorf("release: record: %w", err)
		}
		if in.Parent == "" {
			return nil, fmt.Errorf("release: record has the decision %s and no parent that it is about, want both", in.Because.ID)
		}
	}
	whole, err := io.ReadAll(document)
	if err != nil {
		return nil, fmt.Errorf("release: document: %w", err)
	}
	r, err := fromText(whole, rec)
	if err != nil {
		return nil, err
	}
	if r.SHA256() != in.Coefficients {
		return nil, fmt.Errorf("release: document has the SHA-256 %s, the record %s: it is not the one of this release, or was changed", r.SHA256(), in.Coefficients)
	}
	if r.record.date != in.Date {
		return nil, fmt.Errorf("release: record is of %s, document of %s, want one date", in.Date, r.record.date)
	}
	if rec.state != Frozen {
		if in.Frozen != "" || len(in.Signed)+len(in.Decisions)+len(in.Requirements) > 0 {
			return nil, fmt.Errorf("release: %v record is signed or judged, want that of a frozen one only", rec.state)
		}
		return r, nil
	}
	r.record.frozen, r.record.signed, r.record.decisions, r.record.requirements = in.Frozen, in.Signed, in.Decisions, in.Requirements
	if err := r.record.checkFrozen(r.SHA256()); err != nil {
		return nil, err
	}
	return r, nil
}
