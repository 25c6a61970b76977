//! Drives a Chromium over its debugging pipe: commands as JSON ended by a zero byte, answers and events likewise.

use serde_json::{Value, json};
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};

/// A headless browser with one page.
pub(super) struct Browser {
    process: Child,
    commands: ChildStdin,
    answers: BufReader<ChildStdout>,
    session: Option<String>,
    number: u64,
    /// What the browser told unasked, in order.
    events: Vec<Value>,
}

/// A key of the keyboard: its name and its number.
#[derive(Clone, Copy)]
pub(super) struct Key(&'static str, u32);

pub(super) const TAB: Key = Key("Tab", 9);
pub(super) const RIGHT: Key = Key("ArrowRight", 39);
pub(super) const LEFT: Key = Key("ArrowLeft", 37);
pub(super) const ENTER: Key = Key("Enter", 13);

impl Browser {
    /// Starts the Chromium on the path, with its profile in `folder`.
    pub(super) fn start(folder: &Path) -> Self {
        // The pipe is expected at the file descriptors 3 and 4.
        let plumbing = "exec \"$0\" \"$@\" 3<&0 4>&1 0</dev/null 1>/dev/null 2>/dev/null";
        let name = std::env::var("CHROMIUM").unwrap_or_else(|_| "chromium".to_owned());
        let mut process = Command::new("sh")
            .args(["-c", plumbing, &name])
            .args([
                "--headless=new",
                "--no-sandbox",
                "--disable-gpu",
                "--no-first-run",
            ])
            .args([
                "--disable-extensions",
                "--disable-dev-shm-usage",
                "--remote-debugging-pipe",
            ])
            .arg(format!(
                "--user-data-dir={}",
                folder.join("profile").display()
            ))
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .expect("a shell");
        let commands = process.stdin.take().expect("a pipe");
        let answers = BufReader::new(process.stdout.take().expect("a pipe"));
        let mut browser = Self {
            process,
            commands,
            answers,
            session: None,
            number: 0,
            events: Vec::new(),
        };
        let target = browser.call("Target.createTarget", &json!({ "url": "about:blank" }));
        let attach = json!({ "targetId": target["targetId"], "flatten": true });
        let session = browser.call("Target.attachToTarget", &attach);
        browser.session = session["sessionId"].as_str().map(str::to_owned);
        for domain in ["Page", "Runtime", "Network", "Log"] {
            browser.call(&format!("{domain}.enable"), &json!({}));
        }
        browser
    }

    fn read(&mut self) -> Value {
        let mut message = Vec::new();
        self.answers.read_until(0, &mut message).expect("an answer");
        message.pop();
        assert!(
            !message.is_empty(),
            "the browser has gone: is Chromium installed (apt-get install chromium)?"
        );
        serde_json::from_slice(&message).expect("JSON")
    }

    /// Has a command done and gives its result.
    pub(super) fn call(&mut self, method: &str, parameters: &Value) -> Value {
        self.number += 1;
        let mut message = json!({ "id": self.number, "method": method, "params": parameters });
        if let Some(session) = &self.session {
            message["sessionId"] = json!(session);
        }
        let mut bytes = message.to_string().into_bytes();
        bytes.push(0);
        self.commands.write_all(&bytes).expect("the browser reads");
        self.commands.flush().expect("the browser reads");
        loop {
            let answer = self.read();
            if answer["id"] == self.number {
                assert!(answer.get("error").is_none(), "{method}: {answer}");
                return answer["result"].clone();
            }
            self.events.push(answer);
        }
    }

    /// Opens a file and waits until it is loaded.
    pub(super) fn open(&mut self, path: &Path) {
        self.events.clear();
        let url = format!("file://{}", path.display());
        self.call("Page.navigate", &json!({ "url": url }));
        while !self
            .events
            .iter()
            .any(|event| event["method"] == "Page.loadEventFired")
        {
            let event = self.read();
            self.events.push(event);
        }
        self.settle();
    }

    /// Waits until the page has drawn what it was told.
    pub(super) fn settle(&mut self) {
        self.value("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(() => done(true))))");
    }

    /// The value of an expression in the page.
    pub(super) fn value(&mut self, expression: &str) -> Value {
        let asked =
            json!({ "expression": expression, "returnByValue": true, "awaitPromise": true });
        let answer = self.call("Runtime.evaluate", &asked);
        assert!(
            answer.get("exceptionDetails").is_none(),
            "{expression}: {answer}"
        );
        answer["result"]["value"].clone()
    }

    /// The text of the element with this id.
    pub(super) fn text(&mut self, id: &str) -> String {
        let value = self.value(&format!("document.getElementById('{id}').textContent"));
        value.as_str().expect("a text").to_owned()
    }

    /// Presses a key so many times.
    pub(super) fn press(&mut self, Key(name, number): Key, times: u32) {
        for _ in 0..times {
            for kind in ["keyDown", "keyUp"] {
                let key = json!({ "type": kind, "key": name, "code": name, "windowsVirtualKeyCode": number,
                    "text": if name == "Enter" && kind == "keyDown" { "\r" } else { "" } });
                self.call("Input.dispatchKeyEvent", &key);
            }
        }
        self.settle();
    }

    /// Moves the focus by the tabulator key until it is on the element with this id.
    pub(super) fn tab_to(&mut self, id: &str) {
        for _ in 0..200 {
            if self.value("document.activeElement.id") == id {
                return;
            }
            self.press(TAB, 1);
        }
        panic!("{id} cannot be reached by the keyboard");
    }

    /// Sets the size of the window, in picture points.
    pub(super) fn resize(&mut self, width: u32, height: u32) {
        let size =
            json!({ "width": width, "height": height, "deviceScaleFactor": 1, "mobile": false });
        self.call("Emulation.setDeviceMetricsOverride", &size);
        self.settle();
    }

    /// Shows the page in light or dark.
    pub(super) fn dark(&mut self, dark: bool) {
        let value = if dark { "dark" } else { "light" };
        let media = json!({ "features": [{ "name": "prefers-color-scheme", "value": value }] });
        self.call("Emulation.setEmulatedMedia", &media);
        self.settle();
    }

    /// Keeps a picture of the whole page in the folder that `PERIBAND_SCREENSHOTS` names, if it does.
    pub(super) fn picture(&mut self, name: &str) {
        use base64::Engine as _;
        let Some(folder) = std::env::var_os("PERIBAND_SCREENSHOTS") else {
            return;
        };
        let asked = json!({ "format": "png", "captureBeyondViewport": true });
        let picture = self.call("Page.captureScreenshot", &asked);
        let bytes = base64::prelude::BASE64_STANDARD
            .decode(picture["data"].as_str().expect("a picture"))
            .expect("base64");
        std::fs::create_dir_all(&folder).expect("a folder");
        std::fs::write(Path::new(&folder).join(format!("{name}.png")), bytes).expect("written");
    }

    /// Everything asked of the network or of files since the page was opened, as addresses.
    pub(super) fn requests(&self) -> Vec<String> {
        let told = |event: &&Value| event["method"] == "Network.requestWillBeSent";
        let address = |event: &Value| event["params"]["request"]["url"].to_string();
        self.events.iter().filter(told).map(address).collect()
    }

    /// Every error, warning or message on the console since the page was opened.
    pub(super) fn complaints(&self) -> Vec<String> {
        let loud = [
            "Runtime.consoleAPICalled",
            "Runtime.exceptionThrown",
            "Log.entryAdded",
        ];
        let told = |event: &&Value| loud.iter().any(|method| event["method"] == *method);
        self.events
            .iter()
            .filter(told)
            .map(Value::to_string)
            .collect()
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        // Closed by its own means where it still listens, else ended.
        let bytes = b"{\"id\":0,\"method\":\"Browser.close\"}\0";
        let asked = self
            .commands
            .write_all(bytes)
            .and_then(|()| self.commands.flush());
        if asked.is_err() || std::thread::panicking() {
            let _ = self.process.kill();
        }
        let _ = self.process.wait();
    }
}
