package nb

import "example.org/loudspeaker/speakerlib/report"

// Attach hands a file on to whoever reads the report, and shows its name, its
// size and its SHA-256. The content goes into the output of the cell; the
// command that makes a report writes it beside the page, in the folder
// NAME.files. A cell itself opens no file.
//
//	nb.Attach("coefficients.json", "application/json", document)
//
// [report.File] says what a name, a media type and a content may be.
// The same name may be attached again only with the same content.
func Attach(name, media string, content []byte) {
	showRecord(report.File{Name: name, Media: media, Content: content})
}
