package nb

import (
	"errors"
	"fmt"
	"os"
	"time"

	"github.com/janpfeifer/gonb/gonbui"
	"github.com/janpfeifer/gonb/gonbui/protocol"
)

// patience is how long the kernel may take to acknowledge an output.
const patience = 30 * time.Second

// bundle is one output in several MIME types. Values are strings, or bytes for
// an image, as the protocol of the pipe carries no other JSON.
type bundle map[string]any

const (
	plain    = "text/plain"
	page     = "text/html"
	markdown = "text/markdown"
	svg      = "image/svg+xml"
	png      = "image/png"
)

// send shows an output and waits until the kernel has taken it.
func send(b bundle, metadata map[string]any) {
	if !gonbui.IsNotebook {
		if _, err := fmt.Fprintln(os.Stdout, b[plain]); err != nil {
			fail(fmt.Errorf("nb: %w", err))
		}
		return
	}
	data := make(map[protocol.MIMEType]any, len(b))
	for mime, v := range b {
		data[protocol.MIMEType(mime)] = v
	}
	taken := make(chan error, 1)
	go func() {
		gonbui.SendData(&protocol.DisplayData{Data: data, Metadata: metadata})
		if err := gonbui.Error(); err != nil {
			taken <- err
			return
		}
		gonbui.Sync() // does not return if the pipe breaks meanwhile
		taken <- gonbui.Error()
	}()
	err := errors.New("the kernel did not acknowledge it")
	select {
	case err = <-taken:
	case <-time.After(patience):
	}
	if err != nil {
		fail(fmt.Errorf("nb: output is lost: %w", err))
	}
}
