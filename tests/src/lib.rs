//! Starts the real binary on a free port and talks to it.

use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Output, Stdio};
use std::sync::OnceLock;
use std::thread::JoinHandle;

use reqwest::{Client, RequestBuilder};
use serde_json::Value;

/// The repository's root.
#[must_use]
pub fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

/// Builds the binary once per test process, as a user would, and gives its path.
///
/// # Panics
/// When it does not build.
#[must_use]
pub fn binary() -> &'static Path {
    static BINARY: OnceLock<PathBuf> = OnceLock::new();
    BINARY.get_or_init(|| {
        let this_test = std::env::current_exe().expect("the test has a path");
        let folder = this_test.ancestors().nth(2).expect("tests are built into <target>/<profile>/deps");
        let release = folder.ends_with("release");
        let mut build = Command::new(env!("CARGO"));
        build.args(["build", "--quiet", "--package", "service", "--bin", "blockwright"]).current_dir(root());
        if release {
            build.arg("--release");
        }
        assert!(build.status().expect("cargo runs").success(), "the service builds");
        folder.join("blockwright")
    })
}

/// Runs a command of the binary with a text on its standard input.
///
/// # Panics
/// When it does not run.
#[must_use]
pub fn run(arguments: &[&str], input: &str) -> Output {
    let mut process = Command::new(binary())
        .args(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the binary runs");
    let mut pipe = process.stdin.take().expect("its input is a pipe");
    // A command that wants no input may be gone already.
    let _ = pipe.write_all(input.as_bytes());
    drop(pipe);
    process.wait_with_output().expect("the binary ends")
}

/// A running service; it is stopped when this is dropped.
pub struct Service {
    process: Child,
    /// Where it listens: `127.0.0.1:<port>`.
    pub address: String,
    client: Client,
}

impl Service {
    /// Starts the service on a free port.
    ///
    /// # Panics
    /// When it does not start.
    #[must_use]
    pub fn start() -> Self {
        Self::start_with(&[])
    }

    /// Starts the service on a free port with further arguments.
    ///
    /// # Panics
    /// When it does not start.
    #[must_use]
    pub fn start_with(arguments: &[&str]) -> Self {
        let mut command = Command::new(binary());
        command.args(["--address", "127.0.0.1:0", "--log", "error"]).args(arguments);
        Self::of(command)
    }

    /// Starts the service with its ordinary log, and a thread that collects the log's lines until the service ends.
    ///
    /// # Panics
    /// When it does not start.
    #[must_use]
    pub fn start_logging() -> (Self, JoinHandle<Vec<String>>) {
        let mut command = Command::new(binary());
        command.args(["--address", "127.0.0.1:0"]).stderr(Stdio::piped());
        let mut service = Self::of(command);
        let log = BufReader::new(service.process.stderr.take().expect("its log is a pipe"));
        (service, std::thread::spawn(move || log.lines().map_while(Result::ok).collect()))
    }

    fn of(mut command: Command) -> Self {
        let mut process = command.stdout(Stdio::piped()).spawn().expect("the binary starts");
        let mut first = String::new();
        let mut output = BufReader::new(process.stdout.take().expect("its output is a pipe"));
        output.read_line(&mut first).expect("it prints its address");
        let address = first.trim().rsplit("http://").next().expect("it prints its address").to_owned();
        // Keep reading, or a full pipe would stop it.
        std::thread::spawn(move || output.lines().for_each(drop));
        Self { process, address, client: Client::new() }
    }

    /// The service's process number.
    #[must_use]
    pub fn process(&self) -> u32 {
        self.process.id()
    }

    /// Asks it to stop.
    ///
    /// # Panics
    /// When it is gone.
    pub fn terminate(&self) {
        let asked = Command::new("kill").args(["-TERM", &self.process().to_string()]).status();
        assert!(asked.expect("kill runs").success(), "the service is there");
    }

    /// Waits until it has stopped.
    ///
    /// # Panics
    /// When it cannot be waited for.
    #[must_use]
    pub fn wait(mut self) -> ExitStatus {
        self.process.wait().expect("it ends")
    }

    /// Asks it to stop and waits until it has.
    #[must_use]
    pub fn end(self) -> ExitStatus {
        self.terminate();
        self.wait()
    }

    /// The URL of a path.
    #[must_use]
    pub fn url(&self, path: &str) -> String {
        format!("http://{}{path}", self.address)
    }

    /// A GET.
    pub fn get(&self, path: &str) -> RequestBuilder {
        self.client.get(self.url(path))
    }

    /// A request of any method.
    ///
    /// # Panics
    /// When the method is not one.
    pub fn request(&self, method: &str, path: &str) -> RequestBuilder {
        self.client.request(method.parse().expect("a method"), self.url(path))
    }

    /// A POST of a text that calls itself JSON.
    pub fn post(&self, path: &str, body: impl Into<reqwest::Body>) -> RequestBuilder {
        self.client.post(self.url(path)).header("content-type", "application/json").body(body)
    }

    /// Posts JSON; gives status and body.
    ///
    /// # Panics
    /// When the answer is not JSON.
    pub async fn post_json(&self, path: &str, body: &Value) -> (u16, Value) {
        answer(self.post(path, body.to_string())).await
    }
}

impl Drop for Service {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

/// Sends a request whose answer is JSON; gives status and body.
///
/// # Panics
/// When there is no answer, or it is not JSON.
pub async fn answer(request: RequestBuilder) -> (u16, Value) {
    let response = request.send().await.expect("an answer");
    let status = response.status().as_u16();
    let body = response.text().await.expect("a body");
    (status, serde_json::from_str(&body).unwrap_or_else(|error| panic!("{error} in {body}")))
}

/// Every JSON file below a folder of `fixtures`, parsed, with its path below that folder.
///
/// # Panics
/// When a file cannot be read or is not JSON.
#[must_use]
pub fn fixtures(folder: &str) -> Vec<(String, Value)> {
    let base = root().join("fixtures").join(folder);
    let mut found = Vec::new();
    let mut folders = vec![base.clone()];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(&folder).unwrap_or_else(|error| panic!("{}: {error}", folder.display())) {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|extension| extension == "json") {
                let text = std::fs::read_to_string(&path).expect("readable");
                let value = serde_json::from_str(&text).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
                let name = path.strip_prefix(&base).expect("below the folder").display().to_string();
                found.push((name, value));
            }
        }
    }
    assert!(!found.is_empty(), "fixtures/{folder} holds no file");
    found.sort_by(|a, b| a.0.cmp(&b.0));
    found
}
