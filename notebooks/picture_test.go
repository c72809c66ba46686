package notebooks_test

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"os"
	"testing"
)

// The picture of the README is the one in the committed study, and no older one.
func TestPictureIsFromTheStudy(t *testing.T) {
	picture, err := os.ReadFile("pictures/ceiling.png")
	if err != nil {
		t.Fatal(err)
	}
	study, err := os.ReadFile("active-conversion.ipynb")
	if err != nil {
		t.Fatal(err)
	}
	var nb struct {
		Cells []struct {
			ID      string `json:"id"`
			Outputs []struct {
				Data struct {
					PNG string `json:"image/png"`
				} `json:"data"`
			} `json:"outputs"`
		} `json:"cells"`
	}
	if err := json.Unmarshal(study, &nb); err != nil {
		t.Fatal(err)
	}
	for _, c := range nb.Cells {
		if c.ID != "ceiling-figure" {
			continue
		}
		for _, o := range c.Outputs {
			if o.Data.PNG == "" {
				continue
			}
			png, err := base64.StdEncoding.DecodeString(o.Data.PNG)
			if err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(png, picture) {
				t.Error("pictures/ceiling.png is not the figure of the study: take it from there")
			}
			return
		}
	}
	t.Error("the study has no cell ceiling-figure with a picture")
}
