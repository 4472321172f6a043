package trust

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/xml"

	"github.com/google/uuid"
)

// Profile is the root as an iPhone takes it: an unsigned configuration profile
// with one payload com.apple.security.root (Apple, 'Configuration Profile
// Reference'). Its identities come of the certificate, so that a second
// download replaces the first and does not stand beside it.
func (r *Root) Profile() []byte {
	sum := sha256.Sum256(r.Cert.Raw)
	id := func(of string) string { return uuid.NewSHA1(uuid.NameSpaceOID, append(sum[:], of...)).String() }
	var name bytes.Buffer
	xml.EscapeText(&name, []byte(r.Cert.Subject.CommonName)) // a buffer takes everything
	return []byte(`<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE plist PUBLIC "-//Apple//DTD PLIST 1.0//EN" "http://www.apple.com/DTDs/PropertyList-1.0.dtd">
<plist version="1.0"><dict>
<key>PayloadType</key><string>Configuration</string>
<key>PayloadVersion</key><integer>1</integer>
<key>PayloadIdentifier</key><string>gaugebook.root.` + id("profile") + `</string>
<key>PayloadUUID</key><string>` + id("profile") + `</string>
<key>PayloadDisplayName</key><string>` + name.String() + `</string>
<key>PayloadDescription</key><string>Lets this phone open the office's book. It vouches for this office's name and for private addresses only.</string>
<key>PayloadContent</key><array><dict>
<key>PayloadType</key><string>com.apple.security.root</string>
<key>PayloadVersion</key><integer>1</integer>
<key>PayloadIdentifier</key><string>gaugebook.root.` + id("certificate") + `</string>
<key>PayloadUUID</key><string>` + id("certificate") + `</string>
<key>PayloadDisplayName</key><string>` + name.String() + `</string>
<key>PayloadCertificateFileName</key><string>gaugebook-root.crt</string>
<key>PayloadContent</key><data>` + base64.StdEncoding.EncodeToString(r.Cert.Raw) + `</data>
</dict></array>
</dict></plist>
`)
}
