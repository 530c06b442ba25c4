//! The program serving a page for a scenario in a folder of its own, and plain requests to it.

use serde_json::Value;
use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};
use std::time::Duration;
use tempfile::TempDir;

/// A scenario that takes a moment: straight flights, some thousand droplets a print. Invented.
pub(crate) const SCENARIO: &str = r#"# An invented line on a pad.
name = "a pad"
note = "Invented."
seed = 11
prints = 12

[flow]
carrier_sccm = 8
sheath_sccm = 40        # what the controller shows

[ink]
solvent = [{ name = "water" }]

[[ink.powder]]
name = "alumina"
mass_percent = 2        # as weighed
density_g_cm3 = 3.95
sizes = [{ median_um = 0.3, gsd = 1.5 }]

[atomiser]
droplet_median_um = 2.2
mist_load_ul_per_l = 10

[[tube]]
length_mm = 200
bore_mm = 3

[head]
inlet_bore_mm = 1
mixing_length_mm = 10
half_angle_deg = 6
nozzle_um = 150

[flight]
stand_off_mm = 2
model = "straight"

[stage]
acceleration_m_s2 = 20

[[path]]
kind = "line"
name = "line"
from_um = [-60, 0]
to_um = [60, 0]
speed_mm_s = 6          # slow enough

[chip]
width_mm = 1
height_mm = 1

[[region]]
kind = "rectangle"
name = "pad"
role = "target"
center_um = [0, 0]
size_um = [80, 30]

[map]
pitch_um = 1
margin_um = 20

[spread]
output = { sd_percent = 5 }

[acceptance]
required_share_percent = 80

[[acceptance.limit]]
figure = "coverage_percent"
place = "pad"
min = 0.25

[[acceptance.limit]]
figure = "mean_thickness_nm"
place = "pad"
max = 60
"#;

/// The scenario's file.
pub(crate) const FILE: &str = "pad.toml";

/// A folder with the scenario.
pub(crate) fn folder() -> TempDir {
    let folder = tempfile::tempdir().expect("a temporary folder");
    fs::write(folder.path().join(FILE), SCENARIO).expect("written");
    folder
}

/// The program, serving.
pub(crate) struct Server {
    child: Child,
    /// Where it runs.
    pub(crate) folder: PathBuf,
    /// Port on this computer.
    pub(crate) port: u16,
    /// What the page's address bears.
    pub(crate) token: String,
}

impl Server {
    /// Serves the scenario of a folder.
    pub(crate) fn start(folder: &TempDir) -> Self {
        let folder = folder.path().to_owned();
        let mut child = Command::new(env!("CARGO_BIN_EXE_motefall"))
            .current_dir(&folder)
            .env("MOTEFALL_CACHE", folder.join("jets"))
            .args(["explore", FILE, "--no-open"])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("the program starts");
        let mut lines = BufReader::new(child.stdout.take().expect("it was asked for")).lines();
        let address = lines.by_ref().map(|line| line.expect("text")).find(|line| line.contains("http://"));
        let address = address.expect("it says the address");
        let (port, token) = address
            .trim()
            .strip_prefix("http://127.0.0.1:")
            .and_then(|rest| rest.split_once("/?token="))
            .unwrap_or_else(|| panic!("{address}"));
        // Its last line is read when it ends.
        std::thread::spawn(move || lines.for_each(drop));
        Self { child, folder, port: port.parse().expect("a port"), token: token.to_owned() }
    }

    /// The address of the page.
    pub(crate) fn address(&self) -> String {
        format!("http://127.0.0.1:{}/?token={}", self.port, self.token)
    }

    /// Ends it at once, as a loss of power does.
    pub(crate) fn kill(&mut self) {
        self.child.kill().expect("it runs");
        self.child.wait().expect("it ends");
    }

    /// Whether it still runs.
    pub(crate) fn runs(&mut self) -> bool {
        self.child.try_wait().expect("it can be asked").is_none()
    }

    /// Headers of the page's own requests.
    pub(crate) fn own(&self) -> Vec<(&'static str, String)> {
        vec![
            ("Host", format!("127.0.0.1:{}", self.port)),
            ("Cookie", format!("motefall-{}={}", self.port, self.token)),
            ("X-Motefall-Token", self.token.clone()),
        ]
    }

    /// Status and body of the answer to a request.
    pub(crate) fn request(&self, method: &str, path: &str, headers: &[(&str, String)], body: &[u8]) -> (u16, Vec<u8>) {
        let mut stream = TcpStream::connect(("127.0.0.1", self.port)).expect("it listens");
        stream.set_read_timeout(Some(Duration::from_secs(60))).expect("a time");
        let mut head = format!("{method} {path} HTTP/1.1\r\nConnection: close\r\nContent-Length: {}\r\n", body.len());
        headers.iter().for_each(|(name, value)| head += &format!("{name}: {value}\r\n"));
        head += "\r\n";
        stream.write_all(head.as_bytes()).expect("sent");
        // A long body may be refused before its end.
        let _ = stream.write_all(body);
        let mut answer = vec![];
        let _ = stream.read_to_end(&mut answer);
        let end = answer.windows(4).position(|four| four == b"\r\n\r\n").unwrap_or(answer.len());
        let head = String::from_utf8_lossy(&answer[..end]).into_owned();
        let status = head.split(' ').nth(1).and_then(|status| status.parse().ok()).unwrap_or(0);
        (status, answer.get(end + 4..).unwrap_or_default().to_vec())
    }

    /// The answer to a question of the page; a refusal has a status other than 200.
    pub(crate) fn ask(&self, what: &str, question: &Value) -> (u16, Value) {
        let (status, body) =
            self.request("POST", &format!("/api/{what}"), &self.own(), question.to_string().as_bytes());
        (status, serde_json::from_slice(&body).unwrap_or_default())
    }

    /// A command of the program in the folder: what it says, and on standard error.
    pub(crate) fn run(&self, arguments: &[&str]) -> (String, String) {
        let output = Command::new(env!("CARGO_BIN_EXE_motefall"))
            .current_dir(&self.folder)
            .env("MOTEFALL_CACHE", self.folder.join("jets"))
            .args(arguments)
            .output()
            .expect("the program runs");
        [output.stdout, output.stderr].map(|text| String::from_utf8(text).expect("text")).into()
    }

    /// The summary of a prediction, with these arguments after the file.
    pub(crate) fn predict(&self, file: &str, more: &[&str]) -> Value {
        let (said, complained) =
            self.run(&[&["predict", file, "--json", "--out", "out", "--overwrite"], more].concat());
        serde_json::from_str(&said).unwrap_or_else(|_| panic!("{complained}"))
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
