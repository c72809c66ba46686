module example.org/loudspeaker

go 1.26.0

tool example.org/loudspeaker/kernel-setup

require (
	github.com/alecthomas/chroma/v2 v2.27.0
	github.com/alecthomas/kong v1.17.0
	github.com/go-gota/gota v0.12.0
	github.com/go-zeromq/zmq4 v0.17.0
	github.com/janpfeifer/gonb v0.11.4
	github.com/microcosm-cc/bluemonday v1.0.27
	github.com/schollz/progressbar/v3 v3.19.1
	github.com/wyatt915/treeblood v0.1.15
	github.com/yuin/goldmark v1.8.7
	golang.org/x/image v0.30.0
	golang.org/x/mod v0.27.0
	golang.org/x/net v0.26.0
	golang.org/x/term v0.48.0
	gonum.org/v1/gonum v0.17.0
	gonum.org/v1/plot v0.17.0
	pgregory.net/rapid v1.3.0
)

require (
	codeberg.org/go-fonts/liberation v0.5.0 // indirect
	codeberg.org/go-latex/latex v0.2.0 // indirect
	codeberg.org/go-pdf/fpdf v0.11.1 // indirect
	git.sr.ht/~sbinet/gg v0.7.0 // indirect
	github.com/ajstarks/svgo v0.0.0-20211024235047-1546f124cd8b // indirect
	github.com/aymerick/douceur v0.2.0 // indirect
	github.com/dlclark/regexp2/v2 v2.2.1 // indirect
	github.com/go-logr/logr v1.4.2 // indirect
	github.com/go-zeromq/goczmq/v4 v4.2.2 // indirect
	github.com/gofrs/uuid v4.4.0+incompatible // indirect
	github.com/golang/freetype v0.0.0-20170609003504-e2365dfdc4a0 // indirect
	github.com/gorilla/css v1.0.1 // indirect
	github.com/mitchellh/colorstring v0.0.0-20190213212951-d06e56a500db // indirect
	github.com/pkg/errors v0.9.1 // indirect
	github.com/rivo/uniseg v0.4.7 // indirect
	golang.org/x/exp v0.0.0-20250106191152-7588d65b2ba8 // indirect
	golang.org/x/sync v0.16.0 // indirect
	golang.org/x/sys v0.50.0 // indirect
	golang.org/x/text v0.28.0 // indirect
	k8s.io/klog/v2 v2.130.1 // indirect
)
