//! `serve --lan` as devices of the shop's network meet it: asked over HTTPS at the machine's own address.
//!
//! On a machine without an address of its own on a network it is skipped with a word.
#![allow(clippy::unwrap_used, clippy::print_stderr, reason = "tests")]

use job::JobId;
use rustls::client::danger::{HandshakeSignatureValid, ServerCertVerified, ServerCertVerifier};
use rustls::pki_types::{CertificateDer, ServerName, UnixTime};
use rustls::{ClientConfig, ClientConnection, DigitallySignedStruct, SignatureScheme, StreamOwned};
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::{Arc, Mutex};
use std::time::Duration;
use studio::{Stamp, Studio};

struct Running(Child);

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// Takes any certificate, as a person does who has compared the fingerprint, and remembers what it was.
#[derive(Debug, Default)]
struct Shown(Mutex<Vec<u8>>);

impl ServerCertVerifier for Shown {
    fn verify_server_cert(
        &self,
        end: &CertificateDer<'_>,
        _: &[CertificateDer<'_>],
        _: &ServerName<'_>,
        _: &[u8],
        _: UnixTime,
    ) -> Result<ServerCertVerified, rustls::Error> {
        *self.0.lock().unwrap() = end.to_vec();
        Ok(ServerCertVerified::assertion())
    }

    fn verify_tls12_signature(
        &self,
        message: &[u8],
        cert: &CertificateDer<'_>,
        signed: &DigitallySignedStruct,
    ) -> Result<HandshakeSignatureValid, rustls::Error> {
        let known = rustls::crypto::ring::default_provider().signature_verification_algorithms;
        rustls::crypto::verify_tls12_signature(message, cert, signed, &known)
    }

    fn verify_tls13_signature(
        &self,
        message: &[u8],
        cert: &CertificateDer<'_>,
        signed: &DigitallySignedStruct,
    ) -> Result<HandshakeSignatureValid, rustls::Error> {
        let known = rustls::crypto::ring::default_provider().signature_verification_algorithms;
        rustls::crypto::verify_tls13_signature(message, cert, signed, &known)
    }

    fn supported_verify_schemes(&self) -> Vec<SignatureScheme> {
        rustls::crypto::ring::default_provider().signature_verification_algorithms.supported_schemes()
    }
}

/// A device that asks at an address; it keeps its cookies.
struct Device {
    host: String,
    port: u16,
    cookies: Vec<(String, String)>,
    /// `Set-Cookie` lines as they came.
    given: Vec<String>,
    certificate: Vec<u8>,
}

struct Answer {
    status: u16,
    location: String,
    body: String,
}

impl Device {
    fn at(host: &str, port: u16) -> Self {
        Self { host: host.to_owned(), port, cookies: Vec::new(), given: Vec::new(), certificate: Vec::new() }
    }

    fn connect(&mut self) -> StreamOwned<ClientConnection, TcpStream> {
        let shown = Arc::new(Shown::default());
        let provider = Arc::new(rustls::crypto::ring::default_provider());
        let config = ClientConfig::builder_with_provider(provider)
            .with_safe_default_protocol_versions()
            .unwrap()
            .dangerous()
            .with_custom_certificate_verifier(shown.clone())
            .with_no_client_auth();
        let name = ServerName::try_from(self.host.clone()).unwrap();
        let mut connection = ClientConnection::new(Arc::new(config), name).unwrap();
        let mut tcp = TcpStream::connect((self.host.as_str(), self.port)).unwrap();
        tcp.set_read_timeout(Some(Duration::from_secs(30))).unwrap();
        while connection.is_handshaking() {
            connection.complete_io(&mut tcp).unwrap();
        }
        self.certificate = shown.0.lock().unwrap().clone();
        StreamOwned::new(connection, tcp)
    }

    fn head(&self, method: &str, path: &str) -> String {
        let (host, port) = (&self.host, self.port);
        let cookies: Vec<String> = self.cookies.iter().map(|(n, v)| format!("{n}={v}")).collect();
        format!(
            "{method} {path} HTTP/1.1\r\nHost: {host}:{port}\r\nOrigin: https://{host}:{port}\r\nSec-Fetch-Site: same-origin\r\nAccept: text/html\r\nCookie: {}\r\n",
            cookies.join("; ")
        )
    }

    fn ask(&mut self, method: &str, path: &str, fields: &[(&str, &str)]) -> Answer {
        let mut stream = self.connect();
        let body = form_urlencoded::Serializer::new(String::new()).extend_pairs(fields).finish();
        let head = self.head(method, path);
        write!(
            stream,
            "{head}Connection: close\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: {}\r\n\r\n{body}",
            body.len()
        )
        .unwrap();
        let mut bytes = Vec::new();
        // The end of the connection may come without a farewell.
        let _ = stream.read_to_end(&mut bytes);
        let text = String::from_utf8_lossy(&bytes).into_owned();
        let (head, body) = text.split_once("\r\n\r\n").unwrap_or((&text, ""));
        let mut location = String::new();
        for line in head.lines() {
            let (name, value) = line.split_once(": ").unwrap_or((line, ""));
            match name.to_ascii_lowercase().as_str() {
                "location" => value.clone_into(&mut location),
                "set-cookie" => {
                    self.given.push(value.to_owned());
                    let (name, value) = value.split(';').next().unwrap().split_once('=').unwrap();
                    self.cookies.retain(|(n, _)| n != name);
                    self.cookies.push((name.to_owned(), value.to_owned()));
                }
                _ => {}
            }
        }
        let status = head.split(' ').nth(1).and_then(|s| s.parse().ok()).unwrap_or(0);
        Answer { status, location, body: body.to_owned() }
    }
}

/// SHA-256 in pairs of digits, as browsers show it.
fn fingerprint(certificate: &[u8]) -> String {
    let digest = ring::digest::digest(&ring::digest::SHA256, certificate);
    digest.as_ref().iter().map(|b| format!("{b:02X}")).collect::<Vec<_>>().join(":")
}

/// Every cookie is for HTTPS alone, unseen by scripts and by other sites.
fn kept_close(device: &Device) {
    assert!(!device.given.is_empty());
    for cookie in &device.given {
        for word in ["; Secure", "; HttpOnly", "; SameSite=Strict"] {
            assert!(cookie.contains(word), "{} has no {word}", cookie.split('=').next().unwrap());
        }
    }
}

fn served(folder: &Path) -> (Running, BufReader<std::process::ChildStdout>, u16) {
    let port = TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
    let mut child = Command::new(env!("CARGO_BIN_EXE_shutline"))
        .args(["serve", "--lan", "--port", &port.to_string(), "--dir"])
        .arg(folder)
        .env_remove("MALLOC_ARENA_MAX")
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let out = BufReader::new(child.stdout.take().unwrap());
    (Running(child), out, port)
}

/// Lines of the program's output up to one that begins so; that one comes last.
fn lines_to(out: &mut impl BufRead, begin: &str) -> Vec<String> {
    let mut lines = Vec::new();
    loop {
        let mut line = String::new();
        if out.read_line(&mut line).unwrap() == 0 {
            panic!("'{begin}' was not said: {lines:?}");
        }
        let line = line.trim_end().to_owned();
        let last = line.starts_with(begin);
        lines.push(line);
        if last {
            return lines;
        }
    }
}

/// The server has taken its own place with one heap for all threads.
fn one_heap(running: &Running) {
    if cfg!(all(target_os = "linux", target_env = "gnu")) {
        let around = std::fs::read(format!("/proc/{}/environ", running.0.id())).unwrap();
        assert!(around.split(|b| *b == 0).any(|line| line == b"MALLOC_ARENA_MAX=1"));
    }
}

#[test]
fn devices_of_the_network_come_in_over_https() {
    let folder = tempfile::tempdir().unwrap();
    let studio = folder.path().join("studio");
    let example = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/amber-saloon");
    let by = Stamp::by("Nadia");
    Studio::open(&studio).unwrap().import(&by, &example).unwrap();
    let (running, mut out, port) = served(&studio);
    let said = lines_to(&mut out, "Compare it");
    one_heap(&running);
    let reach = said.iter().find_map(|l| l.split_once("network: https://")).unwrap().1;
    let (lan, _) = reach.trim_end_matches('/').rsplit_once(':').unwrap();
    if lan == "127.0.0.1" {
        eprintln!("skipped: this machine has no address on a network");
        return;
    }
    let told = said.iter().find(|l| l.len() == 95 && l.matches(':').count() == 31).unwrap();

    // A tablet asks at the address of the network: the certificate is the one whose fingerprint was told.
    let mut tablet = Device::at(lan, port);
    let answer = tablet.ask("GET", "/cars", &[]);
    assert_eq!((answer.status, answer.location.as_str()), (303, "/door?back=%2Fcars"));
    assert_eq!(fingerprint(&tablet.certificate), *told);
    // Nobody becomes the owner from there.
    let first = [
        ("name", "Nadia"),
        ("passphrase", "heron lamp gravel noon"),
        ("again", "heron lamp gravel noon"),
        ("pin", "2580"),
    ];
    assert_eq!(tablet.ask("POST", "/door/first", &first).status, 403);

    // The owner begins at the machine itself, and shows a code.
    let mut desk = Device::at("127.0.0.1", port);
    assert_eq!(desk.ask("POST", "/door/first", &first).status, 303);
    assert_eq!(fingerprint(&desk.certificate), *told);
    kept_close(&desk);
    let invited = desk.ask("POST", "/shop/invite", &[]);
    let link = format!("https://{lan}:{port}/door/join/");
    let code = invited.body.split(&link).nth(1).unwrap_or_else(|| panic!("no link: {}", invited.status));
    let code: String = code.chars().take_while(char::is_ascii_alphanumeric).collect();
    assert!(invited.body.contains("<svg"), "the code to scan is drawn");

    // The tablet comes in by it, once; a second device does not.
    let join = format!("/door/join/{code}");
    assert_eq!(tablet.ask("GET", &join, &[]).status, 200);
    let joined = tablet.ask("POST", &join, &[("device", "tablet, bay 2")]);
    assert_eq!((joined.status, joined.location.as_str()), (303, "/door"));
    assert_eq!(Device::at(lan, port).ask("POST", &join, &[("device", "stranger")]).status, 404);
    assert_eq!(tablet.ask("GET", "/cars", &[]).status, 303, "let in, not signed in");
    let wrong = tablet.ask("POST", "/door/in", &[("name", "Nadia"), ("pin", "0000")]);
    assert!((400..500).contains(&wrong.status), "{}", wrong.status);
    assert!(tablet.cookies.iter().all(|(name, _)| name != "session"), "a wrong PIN opens nothing");
    let signed = tablet.ask("POST", "/door/in", &[("name", "Nadia"), ("pin", "2580")]);
    assert_eq!(signed.status, 303, "{}", signed.body);
    kept_close(&tablet);
    let cars = tablet.ask("GET", "/cars", &[]);
    assert_eq!(cars.status, 200);

    // News come over the same wire.
    let head = Studio::open(&studio).unwrap().journal().head().unwrap();
    let mut news = tablet.connect();
    write!(news, "{}\r\n", tablet.head("GET", &format!("/live?after={head}"))).unwrap();
    let mut news = BufReader::new(news);
    lines_to(&mut news, "HTTP/1.1 200");
    let answer = desk.ask("POST", "/cars/0001/arrival", &[("form", "note"), ("text", "keys on the hook")]);
    assert_eq!(answer.status, 303);
    let data = lines_to(&mut news, "data: ");
    assert_eq!(data.last().unwrap(), &format!("data: {} job/0001", head + 1));
    let notes = Studio::open(&studio).unwrap().job(&JobId("0001".into())).unwrap().job.notes.clone();
    assert_eq!(notes.last().unwrap().by, "Nadia");

    // Another name for this machine is turned away, and so is plain HTTP.
    let mut wrong = Device::at(lan, port);
    wrong.cookies.clone_from(&tablet.cookies);
    let mut stream = wrong.connect();
    write!(stream, "GET / HTTP/1.1\r\nHost: shop.example:{port}\r\nConnection: close\r\n\r\n").unwrap();
    let mut text = String::new();
    let _ = stream.read_to_string(&mut text);
    assert!(text.starts_with("HTTP/1.1 421"), "{}", text.lines().next().unwrap_or_default());
    let mut plain = TcpStream::connect((lan, port)).unwrap();
    plain.set_read_timeout(Some(Duration::from_secs(10))).unwrap();
    write!(plain, "GET / HTTP/1.1\r\nHost: {lan}:{port}\r\nConnection: close\r\n\r\n").unwrap();
    let mut bytes = Vec::new();
    let _ = plain.read_to_end(&mut bytes);
    assert!(!bytes.starts_with(b"HTTP/1.1 200"), "plain HTTP gets no page");
}
