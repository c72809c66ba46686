package report

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
)

func TestProvenanceRecordsReadBackEqual(t *testing.T) {
	data := Dataset{Path: "datasets/woofer.txt", SHA256: strings.Repeat("0a", 32), Bytes: 1234}
	b, err := json.Marshal(data)
	if err != nil {
		t.Fatal(err)
	}
	if want := `{"path":"datasets/woofer.txt","sha256":"` + data.SHA256 + `","bytes":1234}`; string(b) != want {
		t.Errorf("had %s, want %s", b, want)
	}
	if got, err := ReadDatasets(b); err != nil || len(got) != 1 || got[0] != data {
		t.Errorf("read back %+v, %v", got, err)
	}
	// A seed keeps all its 64 bits.
	seed := Seed{Name: "tolerance", Seed: math.MaxUint64}
	if b, err = json.Marshal(seed); err != nil {
		t.Fatal(err)
	}
	if want := `{"name":"tolerance","seed":18446744073709551615}`; string(b) != want {
		t.Errorf("had %s, want %s", b, want)
	}
	if got, err := ReadSeeds(b); err != nil || len(got) != 1 || got[0] != seed {
		t.Errorf("read back %+v, %v", got, err)
	}
}

func TestFaultyProvenanceIsRefused(t *testing.T) {
	sum := strings.Repeat("0a", 32)
	for _, d := range []Dataset{
		{Path: "elsewhere/woofer.txt", SHA256: sum, Bytes: 1}, {Path: "datasets/woofer.txt", SHA256: sum[2:], Bytes: 1},
		{Path: "datasets/woofer.txt", SHA256: strings.ToUpper(sum), Bytes: 1}, {Path: "datasets/woofer.txt", SHA256: sum, Bytes: -1},
		{Path: "datasets/polar/*", SHA256: sum, Files: -1},
	} {
		if b, err := json.Marshal(d); err == nil {
			t.Errorf("%+v has the record %s", d, b)
		}
	}
	if _, err := json.Marshal(Seed{Seed: 1}); err == nil {
		t.Error("a seed without a name has a record")
	}
	for _, bad := range []string{`{"name":"","seed":1}`, `{"name":"x","seed":-1}`, `{"name":"x","seed":1.5}`, `{"seed":1,"name":"x","more":0}`} {
		if got, err := ReadSeeds([]byte(bad)); err == nil {
			t.Errorf("%s read as %+v", bad, got)
		}
	}
}
