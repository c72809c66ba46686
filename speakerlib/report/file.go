package report

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"mime"
	"regexp"
)

// FileMIME is the MIME type of a [File].
const FileMIME = "application/vnd.loudspeaker.file+json"

// MaxFile is the most bytes that a [File] may have: it travels and is kept
// inside the notebook.
const MaxFile = 1 << 20

// File is the record of a file that a study hands on, such as a document of
// filter coefficients: the content itself, under a plain name. The command that
// makes a report writes it beside the page.
//
// Its JSON has the content in Base64 (RFC 4648, section 4), and its length and
// its SHA-256 (FIPS 180-4), which reading checks.
type File struct {
	Name    string // with extension, without folder: "coefficients.json"
	Media   string // RFC 6838: "application/json", "text/csv; charset=utf-8"
	Content []byte // 1 to MaxFile bytes
}

type fileJSON struct {
	Name    string `json:"name"`
	Media   string `json:"media"`
	SHA256  string `json:"sha256"`
	Bytes   int    `json:"bytes"`
	Content []byte `json:"content"`
}

const maxFileName = 100

var (
	fileName  = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9_-]*(\.[A-Za-z0-9_-]+)*\.[A-Za-z0-9]+$`)
	mediaType = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9!#$&^_.+-]*/[A-Za-z0-9][A-Za-z0-9!#$&^_.+-]*(; ?[ -~]+)?$`)
	// Names of devices on some systems, whatever extension follows.
	deviceName = regexp.MustCompile(`(?i)^(con|prn|aux|nul|com[0-9]|lpt[0-9])\.`)
)

// Validate reports what is wrong with the record. A name is one that every
// file system takes as it is: at most 100 of the letters A to Z and a to z,
// digits, "_", "-" and ".", beginning with a letter or digit and ending with an
// extension.
func (f File) Validate() error {
	if !fileName.MatchString(f.Name) || len(f.Name) > maxFileName {
		return fmt.Errorf("report: file name %q, want at most %d letters A–Z and a–z, digits, _, - and ., with an extension and without a folder", f.Name, maxFileName)
	}
	if deviceName.MatchString(f.Name) {
		return fmt.Errorf("report: file name %q is that of a device on some systems, want another", f.Name)
	}
	if _, _, err := mime.ParseMediaType(f.Media); err != nil || !mediaType.MatchString(f.Media) {
		return fmt.Errorf("report: file %s has the media type %q, want one such as application/json", f.Name, f.Media)
	}
	if n := len(f.Content); n == 0 || n > MaxFile {
		return fmt.Errorf("report: file %s has %d bytes, want 1 to %d", f.Name, n, MaxFile)
	}
	return nil
}

// SHA256 returns the SHA-256 of the content as 64 lower-case hexadecimal digits.
func (f File) SHA256() string {
	sum := sha256.Sum256(f.Content)
	return hex.EncodeToString(sum[:])
}

// MIME implements [Record].
func (File) MIME() string { return FileMIME }

// MarshalJSON implements [json.Marshaler].
func (f File) MarshalJSON() ([]byte, error) {
	if err := f.Validate(); err != nil {
		return nil, err
	}
	return json.Marshal(fileJSON{f.Name, f.Media, f.SHA256(), len(f.Content), f.Content})
}

// UnmarshalJSON implements [json.Unmarshaler].
func (f *File) UnmarshalJSON(b []byte) error {
	var v fileJSON
	if err := strict(b, &v); err != nil {
		return fmt.Errorf("report: file record: %w", err)
	}
	read := File{v.Name, v.Media, v.Content}
	if err := read.Validate(); err != nil {
		return err
	}
	if v.Bytes != len(v.Content) {
		return fmt.Errorf("report: file %s holds %d bytes, but its record says %d", v.Name, len(v.Content), v.Bytes)
	}
	if sum := read.SHA256(); v.SHA256 != sum {
		return fmt.Errorf("report: file %s has SHA-256 %s, but its record says %q", v.Name, sum, v.SHA256)
	}
	*f = read
	return nil
}

// HTML implements [Record].
func (f File) HTML() string { return small(f.Text()) }

// Text implements [Record].
func (f File) Text() string {
	return fmt.Sprintf("file: %s, %d bytes, SHA-256 %s…", f.Name, len(f.Content), f.SHA256()[:12])
}

// ReadFiles reads the value under [FileMIME].
func ReadFiles(value []byte) ([]File, error) { return readRecords[File](value) }
