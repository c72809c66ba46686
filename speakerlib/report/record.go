package report

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"
)

// MIME types of the records that a report collects from a notebook's outputs.
// The value under each is the JSON of the record. Kernels that carry only text
// store it as a string that holds the JSON; the readers here take both.
const (
	RequirementMIME = "application/vnd.loudspeaker.requirement+json"
	DecisionMIME    = "application/vnd.loudspeaker.decision+json"
	DatasetMIME     = "application/vnd.loudspeaker.dataset+json"
	SeedMIME        = "application/vnd.loudspeaker.seed+json"
)

// Record is something that a report collects: its JSON under its MIME type,
// and two forms for reading.
type Record interface {
	json.Marshaler
	MIME() string
	HTML() string
	Text() string
}

// Dataset is the record of a file that a study has read, or of a folder of files.
type Dataset struct {
	Path   string // below the module root, with forward slashes: datasets/…
	SHA256 string // of the bytes read, 64 hexadecimal digits; of a folder that of its manifest
	Bytes  int64  // of a folder, of all its files
	Files  int    // of a folder; 0: it is a file
}

type datasetJSON struct {
	Path   string `json:"path"`
	SHA256 string `json:"sha256"`
	Bytes  int64  `json:"bytes"`
	Files  int    `json:"files,omitempty"`
}

// Validate reports what is wrong with the record.
func (d Dataset) Validate() error {
	if !strings.HasPrefix(d.Path, "datasets/") {
		return fmt.Errorf("report: data set %q, want a path below datasets/", d.Path)
	}
	if !isSHA256(d.SHA256) {
		return fmt.Errorf("report: data set %s has SHA-256 %q, want 64 lower-case hexadecimal digits", d.Path, d.SHA256)
	}
	if d.Bytes < 0 {
		return fmt.Errorf("report: data set %s has %d bytes, want ≥ 0", d.Path, d.Bytes)
	}
	if d.Files < 0 {
		return fmt.Errorf("report: data set %s has %d files, want ≥ 0", d.Path, d.Files)
	}
	return nil
}

// MIME implements [Record].
func (Dataset) MIME() string { return DatasetMIME }

// MarshalJSON implements [json.Marshaler].
func (d Dataset) MarshalJSON() ([]byte, error) {
	if err := d.Validate(); err != nil {
		return nil, err
	}
	return json.Marshal(datasetJSON(d))
}

// UnmarshalJSON implements [json.Unmarshaler].
func (d *Dataset) UnmarshalJSON(b []byte) error {
	var v datasetJSON
	if err := strict(b, &v); err != nil {
		return fmt.Errorf("report: data set record: %w", err)
	}
	if err := Dataset(v).Validate(); err != nil {
		return err
	}
	*d = Dataset(v)
	return nil
}

// HTML implements [Record].
func (d Dataset) HTML() string { return small(d.Text()) }

// Text implements [Record].
func (d Dataset) Text() string {
	sum := d.SHA256
	if len(sum) > 12 {
		sum = sum[:12] + "…"
	}
	if d.Files > 0 {
		return fmt.Sprintf("data: %s, %d files, %d bytes, SHA-256 of their list %s", d.Path, d.Files, d.Bytes, sum)
	}
	return fmt.Sprintf("data: %s, %d bytes, SHA-256 %s", d.Path, d.Bytes, sum)
}

// Seed is the record of a seed of random numbers that a study has used.
type Seed struct {
	Name string // what is drawn from it
	Seed uint64
}

type seedJSON struct {
	Name string `json:"name"`
	Seed uint64 `json:"seed"`
}

// MIME implements [Record].
func (Seed) MIME() string { return SeedMIME }

// MarshalJSON implements [json.Marshaler].
func (s Seed) MarshalJSON() ([]byte, error) {
	if s.Name == "" {
		return nil, fmt.Errorf("report: seed %d has no name, want what is drawn from it", s.Seed)
	}
	return json.Marshal(seedJSON(s))
}

// UnmarshalJSON implements [json.Unmarshaler].
func (s *Seed) UnmarshalJSON(b []byte) error {
	var v seedJSON
	if err := strict(b, &v); err != nil {
		return fmt.Errorf("report: seed record: %w", err)
	}
	if v.Name == "" {
		return fmt.Errorf("report: seed record has no name")
	}
	*s = Seed(v)
	return nil
}

// HTML implements [Record].
func (s Seed) HTML() string { return small(s.Text()) }

// Text implements [Record].
func (s Seed) Text() string { return "seed of " + s.Name + ": " + strconv.FormatUint(s.Seed, 10) }

// ReadRequirements, ReadDecisions, ReadDatasets and ReadSeeds read the value
// that a notebook's output holds under the respective MIME type: a record, an
// array of records, or a string that holds the JSON of either.
func ReadRequirements(value []byte) ([]Requirement, error) { return readRecords[Requirement](value) }

// ReadDecisions reads the value under [DecisionMIME].
func ReadDecisions(value []byte) ([]Decision, error) { return readRecords[Decision](value) }

// ReadDatasets reads the value under [DatasetMIME].
func ReadDatasets(value []byte) ([]Dataset, error) { return readRecords[Dataset](value) }

// ReadSeeds reads the value under [SeedMIME].
func ReadSeeds(value []byte) ([]Seed, error) { return readRecords[Seed](value) }

func readRecords[T any](value []byte) ([]T, error) {
	value = bytes.TrimSpace(value)
	if len(value) > 0 && value[0] == '"' {
		var s string
		if err := json.Unmarshal(value, &s); err != nil {
			return nil, fmt.Errorf("report: record: %w", err)
		}
		value = bytes.TrimSpace([]byte(s))
	}
	if len(value) > 0 && value[0] == '[' {
		var all []T
		if err := json.Unmarshal(value, &all); err != nil {
			return nil, fmt.Errorf("report: records: %w", err)
		}
		return all, nil
	}
	var one T
	if err := json.Unmarshal(value, &one); err != nil {
		return nil, fmt.Errorf("report: record: %w", err)
	}
	return []T{one}, nil
}

// strict decodes one JSON value and refuses fields that it does not know.
func strict(b []byte, into any) error {
	d := json.NewDecoder(bytes.NewReader(b))
	d.DisallowUnknownFields()
	if err := d.Decode(into); err != nil {
		return err
	}
	if _, err := d.Token(); err != io.EOF {
		return fmt.Errorf("more than one JSON value")
	}
	return nil
}
