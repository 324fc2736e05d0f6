package queue

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/nats-io/nats-server/v2/server"
	"github.com/nats-io/nkeys"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A guarded server's secrets, as files.
type secrets struct {
	ca, cert, key, seed string
	public              string // of the seed
	server              tls.Certificate
	roots               *x509.CertPool
}

// certificate makes one of X.509 (RFC 5280) and its key, signed by a parent, or by itself.
func certificate(t *testing.T, template, parent *x509.Certificate, by *ecdsa.PrivateKey) (*x509.Certificate, *ecdsa.PrivateKey, []byte) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	if parent == nil {
		parent, by = template, key
	}
	template.NotBefore, template.NotAfter = time.Now().Add(-time.Hour), time.Now().Add(time.Hour)
	der, err := x509.CreateCertificate(rand.Reader, template, parent, key.Public(), by)
	require.NoError(t, err)
	cert, err := x509.ParseCertificate(der)
	require.NoError(t, err)
	return cert, key, der
}

func makeSecrets(t *testing.T) (s secrets) {
	t.Helper()
	dir := t.TempDir()
	write := func(name, kind string, der []byte) string {
		file := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(file, pem.EncodeToMemory(&pem.Block{Type: kind, Bytes: der}), 0o600))
		return file
	}
	ca, caKey, der := certificate(t, &x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "tea room"}, IsCA: true, BasicConstraintsValid: true,
		KeyUsage: x509.KeyUsageCertSign,
	}, nil, nil)
	s.ca, s.roots = write("ca.pem", "CERTIFICATE", der), x509.NewCertPool()
	s.roots.AddCert(ca)
	_, key, der := certificate(t, &x509.Certificate{
		SerialNumber: big.NewInt(2), IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
	}, ca, caKey)
	s.server = tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key}
	_, key, der = certificate(t, &x509.Certificate{
		SerialNumber: big.NewInt(3), Subject: pkix.Name{CommonName: "worker"}, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageClientAuth},
	}, ca, caKey)
	s.cert = write("worker.pem", "CERTIFICATE", der)
	private, err := x509.MarshalECPrivateKey(key)
	require.NoError(t, err)
	s.key = write("worker.key", "EC PRIVATE KEY", private)
	user, err := nkeys.CreateUser()
	require.NoError(t, err)
	s.public, err = user.PublicKey()
	require.NoError(t, err)
	seed, err := user.Seed()
	require.NoError(t, err)
	s.seed = filepath.Join(dir, "user.nk")
	require.NoError(t, os.WriteFile(s.seed, seed, 0o600))
	return s
}

// A server that goes away is told of, and one that comes back, but not the queue's own end.
func TestOnLoss(t *testing.T) {
	o := &server.Options{Host: "127.0.0.1", Port: -1, JetStream: true, StoreDir: t.TempDir(), NoSigs: true, NoLog: true}
	serve := func() *server.Server {
		n, err := server.NewServer(o)
		require.NoError(t, err)
		n.Start()
		require.True(t, n.ReadyForConnections(10*time.Second))
		return n
	}
	n := serve()
	o.Port = n.Addr().(*net.TCPAddr).Port
	q, err := Connect(context.Background(), n.ClientURL(), DefaultLimits())
	require.NoError(t, err)
	told := make(chan bool, 8)
	q.OnLoss(func(away bool) { told <- away })
	next := func() bool {
		select {
		case away := <-told:
			return away
		case <-time.After(10 * time.Second):
			require.Fail(t, "nothing is told")
			return false
		}
	}
	n.Shutdown()
	assert.True(t, next())
	n = serve()
	defer n.Shutdown()
	assert.False(t, next())
	q.Close()
	time.Sleep(100 * time.Millisecond)
	assert.Empty(t, told)
}

// Credentials and TLS come from the environment, and none are said in an error.
func TestConnectGuarded(t *testing.T) {
	s := makeSecrets(t)
	const secret = "earl-grey-4711"
	withTLS := func(o *server.Options) {
		o.TLS, o.TLSVerify, o.TLSTimeout = true, true, 5
		o.TLSConfig = &tls.Config{
			Certificates: []tls.Certificate{s.server}, ClientAuth: tls.RequireAndVerifyClientCert, ClientCAs: s.roots, MinVersion: tls.VersionTLS12,
		}
	}
	trusted := map[string]string{"NATS_CA": s.ca, "NATS_CERT": s.cert, "NATS_KEY": s.key}
	for _, c := range []struct {
		name   string
		server func(o *server.Options)
		env    map[string]string
		fails  string // what the error tells
	}{
		{"a user and a password", func(o *server.Options) { o.Username, o.Password = "shop", secret }, map[string]string{"NATS_USER": "shop", "NATS_PASSWORD": secret}, ""},
		{"a wrong password", func(o *server.Options) { o.Username, o.Password = "shop", "another" }, map[string]string{"NATS_USER": "shop", "NATS_PASSWORD": secret}, "set NATS_USER and NATS_PASSWORD"},
		{"none where one is asked for", func(o *server.Options) { o.Username, o.Password = "shop", secret }, nil, "set NATS_USER and NATS_PASSWORD"},
		{"a token", func(o *server.Options) { o.Authorization = secret }, map[string]string{"NATS_USER": secret}, ""},
		{"a key pair", func(o *server.Options) { o.Nkeys = []*server.NkeyUser{{Nkey: s.public}} }, map[string]string{"NATS_NKEY": s.seed}, ""},
		{"TLS both ways", withTLS, trusted, ""},
		{"TLS of an unknown authority", withTLS, map[string]string{"NATS_CERT": s.cert, "NATS_KEY": s.key}, "the queue at"},
		{"TLS without a certificate", withTLS, map[string]string{"NATS_CA": s.ca}, "the queue at"},
		{"a file that is not there", func(*server.Options) {}, map[string]string{"NATS_CREDS": "/none.creds"}, "NATS_CREDS names /none.creds"},
	} {
		t.Run(c.name, func(t *testing.T) {
			for _, name := range []string{"NATS_CREDS", "NATS_NKEY", "NATS_USER", "NATS_PASSWORD", "NATS_CA", "NATS_CERT", "NATS_KEY"} {
				t.Setenv(name, c.env[name])
			}
			o := &server.Options{Host: "127.0.0.1", Port: -1, JetStream: true, StoreDir: t.TempDir(), NoSigs: true, NoLog: true}
			c.server(o)
			n, err := server.NewServer(o)
			require.NoError(t, err)
			n.Start()
			defer n.Shutdown()
			require.True(t, n.ReadyForConnections(10*time.Second))
			q, err := Connect(context.Background(), n.ClientURL(), DefaultLimits())
			if c.fails == "" {
				require.NoError(t, err)
				q.Close()
				return
			}
			require.ErrorContains(t, err, c.fails)
			assert.NotContains(t, err.Error(), secret)
		})
	}
}
