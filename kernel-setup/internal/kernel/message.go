// Package kernel is a client of the Jupyter messaging protocol, version 5.3
// (https://jupyter-client.readthedocs.io/en/stable/messaging.html), as far as
// executing a notebook needs it: start a kernel process of our own, ask who
// it is, execute cells, interrupt, stop, and leave nothing behind.
package kernel

import (
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"github.com/go-zeromq/zmq4"
)

// protocolVersion is the version of the messages that this client sends.
const protocolVersion = "5.3"

// delimiter separates the routing identities from the message on the wire.
const delimiter = "<IDS|MSG>"

// Header is the header of a protocol message.
type Header struct {
	ID       string `json:"msg_id"`
	Session  string `json:"session"`
	Username string `json:"username"`
	Date     string `json:"date"`
	Type     string `json:"msg_type"`
	Version  string `json:"version"`
}

// Message is a received message. Content is left as JSON: what it holds
// depends on the type.
type Message struct {
	Header  Header
	Parent  Header
	Content json.RawMessage
}

// wire signs and parses messages of one connection.
type wire struct {
	key     []byte
	session string
}

// newID returns a fresh identifier in the form 8-4-4-4-12 hexadecimal digits.
func newID() string {
	var b [16]byte
	rand.Read(b[:]) // never fails
	h := hex.EncodeToString(b[:])
	return h[:8] + "-" + h[8:12] + "-" + h[12:16] + "-" + h[16:20] + "-" + h[20:]
}

// request builds a signed message and returns it with its identifier.
func (w wire) request(kind string, content any) (id string, msg zmq4.Msg, err error) {
	id = newID()
	header, err := json.Marshal(Header{
		ID: id, Session: w.session, Username: "loudspeaker",
		Date: time.Now().UTC().Format("2006-01-02T15:04:05.000000Z"),
		Type: kind, Version: protocolVersion,
	})
	if err != nil {
		return "", zmq4.Msg{}, err
	}
	body, err := json.Marshal(content)
	if err != nil {
		return "", zmq4.Msg{}, err
	}
	parts := [][]byte{header, []byte("{}"), []byte("{}"), body}
	frames := append([][]byte{[]byte(delimiter), w.sign(parts)}, parts...)
	return id, zmq4.NewMsgFrom(frames...), nil
}

// sign returns the hexadecimal HMAC-SHA256 of the four parts.
func (w wire) sign(parts [][]byte) []byte {
	mac := hmac.New(sha256.New, w.key)
	for _, p := range parts {
		mac.Write(p)
	}
	return []byte(hex.EncodeToString(mac.Sum(nil)))
}

// parse checks the signature of a message from the wire and decodes it.
func (w wire) parse(frames [][]byte) (Message, error) {
	i := 0
	for i < len(frames) && string(frames[i]) != delimiter {
		i++
	}
	if len(frames)-i < 6 {
		return Message{}, fmt.Errorf("kernel: message of %d frames, want the delimiter and five more", len(frames))
	}
	parts := frames[i+2 : i+6]
	if !hmac.Equal(w.sign(parts), frames[i+1]) {
		return Message{}, errors.New("kernel: message with a wrong signature")
	}
	var m Message
	if err := json.Unmarshal(parts[0], &m.Header); err != nil {
		return Message{}, fmt.Errorf("kernel: message header: %w", err)
	}
	if err := json.Unmarshal(parts[1], &m.Parent); err != nil {
		return Message{}, fmt.Errorf("kernel: parent header of %s: %w", m.Header.Type, err)
	}
	m.Content = json.RawMessage(parts[3])
	return m, nil
}
