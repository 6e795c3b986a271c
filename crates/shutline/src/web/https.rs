//! HTTPS on the shop's network: a certificate of the shop's own, made on first start and kept in its folder.

use jiff::{SignedDuration, Timestamp, tz::TimeZone};
use rcgen::{CertificateParams, DistinguishedName, DnType, ExtendedKeyUsagePurpose, KeyPair, date_time_ymd};
use rustls::ServerConfig;
use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, PrivateKeyDer};
use serde::{Deserialize, Serialize};
use std::fs;
use std::io::Write;
use std::net::{IpAddr, Ipv4Addr, UdpSocket};
use std::path::Path;
use std::sync::Arc;
use studio::Refusal;

/// How long a certificate is good for: phones take none that is good for longer than 825 days.
const DAYS: i64 = 820;

/// It is made anew so long before its end.
const EARLY: i64 = 30;

/// The shop's certificate.
pub struct Certificate {
    /// For the server.
    pub config: Arc<ServerConfig>,
    /// SHA-256 of the certificate, in pairs of digits with colons, as browsers show it.
    pub fingerprint: String,
    /// Whether it was made just now.
    pub fresh: bool,
}

/// What is remembered beside the certificate.
#[derive(Serialize, Deserialize)]
struct About {
    names: Vec<String>,
    until: Timestamp,
}

/// The certificate in a folder for these names and addresses; made when there is none, when it runs out soon, or when
/// it does not hold a name.
///
/// # Errors
/// When the folder cannot be written, or what is in it cannot be used.
pub fn certificate(folder: &Path, names: &[String], now: Timestamp) -> Result<Certificate, Refusal> {
    let place = |name: &str| folder.join(name);
    let about: Option<About> =
        fs::read(place("https.json")).ok().and_then(|t| serde_json::from_slice(&t).ok());
    let soon = now + SignedDuration::from_hours(24 * EARLY);
    let good = about.is_some_and(|a| a.until > soon && names.iter().all(|n| a.names.contains(n)))
        && place("https-certificate.pem").exists()
        && place("https-key.pem").exists();
    if !good {
        make(folder, names, now)?;
    }
    let read = |name: &str| fs::read(place(name)).map_err(|e| failed(e, "read the certificate"));
    let chain: Vec<CertificateDer<'static>> = CertificateDer::pem_slice_iter(&read("https-certificate.pem")?)
        .collect::<Result<_, _>>()
        .map_err(|e| failed(e, "read the certificate"))?;
    let key =
        PrivateKeyDer::from_pem_slice(&read("https-key.pem")?).map_err(|e| failed(e, "read the key"))?;
    let digest = chain.first().map(|c| ring_sha256(c)).unwrap_or_default();
    let provider = Arc::new(rustls::crypto::ring::default_provider());
    let mut config = ServerConfig::builder_with_provider(provider)
        .with_safe_default_protocol_versions()
        .and_then(|b| b.with_no_client_auth().with_single_cert(chain, key))
        .map_err(|e| failed(e, "use the certificate"))?;
    // One connection carries all pages of a tablet, the live ones too.
    config.alpn_protocols = vec![b"h2".to_vec(), b"http/1.1".to_vec()];
    Ok(Certificate { config: Arc::new(config), fingerprint: digest, fresh: !good })
}

fn make(folder: &Path, names: &[String], now: Timestamp) -> Result<(), Refusal> {
    let wrong = |e: rcgen::Error| failed(e, "make a certificate");
    let key = KeyPair::generate().map_err(wrong)?;
    let mut params = CertificateParams::new(names.to_vec()).map_err(wrong)?;
    let mut name = DistinguishedName::new();
    name.push(DnType::CommonName, "Shutline, made by the shop itself");
    params.distinguished_name = name;
    let day = |hours: i64| {
        let d = (now + SignedDuration::from_hours(hours)).to_zoned_datetime(TimeZone::UTC).date();
        date_time_ymd(d.year().into(), d.month() as u8, d.day() as u8)
    };
    // From yesterday: the clock of a tablet may be behind.
    (params.not_before, params.not_after) = (day(-24), day(24 * DAYS));
    params.extended_key_usages = vec![ExtendedKeyUsagePurpose::ServerAuth];
    let certificate = params.self_signed(&key).map_err(wrong)?;
    let about = About { names: names.to_vec(), until: now + SignedDuration::from_hours(24 * DAYS) };
    let about = serde_json::to_vec(&about).map_err(|e| failed(e, "describe the certificate"))?;
    write(folder, "https-key.pem", key.serialize_pem().as_bytes())?;
    write(folder, "https-certificate.pem", certificate.pem().as_bytes())?;
    write(folder, "https.json", &about)
}

/// Writes a file that only its owner can read, whole or not at all.
fn write(folder: &Path, name: &str, bytes: &[u8]) -> Result<(), Refusal> {
    let write = || {
        let mut file = tempfile::NamedTempFile::new_in(folder)?;
        file.write_all(bytes)?;
        file.as_file().sync_all()?;
        file.persist(folder.join(name)).map_err(|e| e.error)
    };
    write().map(drop).map_err(|e| failed(e, "keep the certificate"))
}

fn failed(e: impl std::fmt::Display, doing: &str) -> Refusal {
    Refusal::broken(
        format!("Cannot {doing}: {e}"),
        "Remove https-key.pem, https-certificate.pem and https.json from the studio's folder; they are made anew.",
    )
}

fn ring_sha256(bytes: &[u8]) -> String {
    let digest = ring::digest::digest(&ring::digest::SHA256, bytes);
    let pairs: Vec<String> = digest.as_ref().iter().map(|b| format!("{b:02X}")).collect();
    pairs.join(":")
}

/// The address at which other devices of the network reach this machine. Nothing is sent for it: the system is only asked
/// from which address it would send.
pub fn own_address() -> Option<Ipv4Addr> {
    // An address for documentation, RFC 5737: nobody has it.
    let socket = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0)).ok()?;
    socket.connect((Ipv4Addr::new(192, 0, 2, 1), 9)).ok()?;
    match socket.local_addr().ok()?.ip() {
        IpAddr::V4(ip) if !ip.is_loopback() && !ip.is_unspecified() => Some(ip),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_certificate_is_made_once_and_anew_when_it_must_be() {
        let folder = tempfile::tempdir().unwrap();
        let now: Timestamp = "2026-05-13T08:00:00Z".parse().unwrap();
        let names = ["localhost".to_owned(), "192.168.7.20".to_owned()];
        let first = certificate(folder.path(), &names, now).unwrap();
        assert!(first.fresh);
        assert_eq!(first.fingerprint.len(), 32 * 3 - 1);
        let later = now + SignedDuration::from_hours(24 * 700);
        let second = certificate(folder.path(), &names[..1], later).unwrap();
        assert!(!second.fresh);
        assert_eq!(first.fingerprint, second.fingerprint);
        let moved = ["localhost".to_owned(), "192.168.7.21".to_owned()];
        assert!(certificate(folder.path(), &moved, now).unwrap().fresh);
        let late = now + SignedDuration::from_hours(24 * 800);
        assert!(certificate(folder.path(), &moved, late).unwrap().fresh, "it runs out in 20 days");
    }
}
