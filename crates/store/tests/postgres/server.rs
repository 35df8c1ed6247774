//! A server of these tests alone: in a folder of its own, on a port that was free, gone when the
//! program ends, however it ends.

use std::io::{BufRead as _, BufReader, Write as _};
use std::net::TcpListener;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicU64, Ordering};

/// Makes it, starts it, says so, obeys line by line, and clears away when nobody is there any more
/// to say a line.
const SCRIPT: &str = r#"
folder=$1 bin=$2 port=$3 settings=$4 follows=$5
start() {
    "$bin/pg_ctl" -D "$folder/data" -l "$folder/log" -w -t 60 \
        -o "-p $port -k $folder -h 127.0.0.1 $settings" start >>"$folder/log" 2>&1 \
        && echo ready || cat "$folder/log"
}
end() { "$bin/pg_ctl" -D "$folder/data" -m "$1" -w -t 60 stop >>"$folder/log" 2>&1; }
trap '' INT TERM HUP
if [ -n "$follows" ]; then
    "$bin/pg_basebackup" -D "$folder/data" -R -c fast -h 127.0.0.1 -p "$follows" -U ohmstead \
        --no-sync >>"$folder/log" 2>&1
else
    "$bin/initdb" -D "$folder/data" -U ohmstead --auth=trust --encoding=UTF8 --locale=C.UTF-8 \
        --locale-provider=icu --icu-locale=en-US --no-sync >>"$folder/log" 2>&1
fi
start
while read -r line; do
    case $line in
        start) start ;;
        promote)
            "$bin/pg_ctl" -D "$folder/data" -w -t 60 promote >>"$folder/log" 2>&1 \
                && echo ready || cat "$folder/log" ;;
        set*) settings=${line#set }; echo ready ;;
        *) end "$line"; echo ready ;;
    esac
done
end immediate
rm -rf "$folder"
"#;

/// Settings of every one of them.
const SMALL: &str = "-c shared_buffers=32MB -c max_connections=300";

static NEXT: AtomicU64 = AtomicU64::new(0);

pub(crate) struct Server {
    pub(crate) port: u16,
    script: Child,
    says: BufReader<std::process::ChildStdout>,
}

impl Server {
    /// A server with these settings, as they stand on its command line: one by itself, or the
    /// standby that takes in what the server at this port writes.
    pub(crate) fn start(settings: &str, standby_of: Option<u16>) -> Self {
        let number = NEXT.fetch_add(1, Ordering::Relaxed);
        let name = format!("ohmstead-server-{}-{number}", std::process::id());
        let folder = std::env::temp_dir().join(name);
        std::fs::create_dir_all(&folder).expect("the folder for temporary files takes one more");
        let mut shell = as_nobody_of_note(&folder);
        let free = TcpListener::bind("127.0.0.1:0").and_then(|one| one.local_addr());
        let port = free.expect("a port is free").port();
        let settings = format!("{SMALL} {settings}");
        let mut script = shell
            .args(["sh", "-c", SCRIPT, "sh"])
            .arg(&folder)
            .arg(programs())
            .args([port.to_string(), settings])
            .arg(standby_of.map(|port| port.to_string()).unwrap_or_default())
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("a shell runs");
        let says = BufReader::new(script.stdout.take().expect("it is piped"));
        let mut server = Self { port, script, says };
        server.listen();
        server
    }

    /// Starts it again, stops it (`smart`, `fast`, `immediate`), lets a standby take over
    /// (`promote`), or says what it is to be set to from its next start on (`set …`).
    pub(crate) fn say(&mut self, line: &str) {
        let to = self.script.stdin.as_mut().expect("it is piped");
        writeln!(to, "{line}").expect("the script listens");
        self.listen();
    }

    fn listen(&mut self) {
        let mut said = String::new();
        self.says.read_line(&mut said).expect("it answers");
        assert_eq!(said.trim(), "ready", "the server does not start");
    }

    /// The address of a schema on it, or of what the server has without one.
    pub(crate) fn address(&self, schema: &str) -> String {
        let port = self.port;
        let options = if schema.is_empty() {
            String::new()
        } else {
            format!("?options=-c%20search_path%3D{schema}")
        };
        format!("postgres://ohmstead@127.0.0.1:{port}/postgres{options}")
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        // The script ends with what it reads.
        drop(self.script.stdin.take());
        let _ = self.script.wait();
    }
}

/// A server refuses to run as root, so it runs as the user that its package brings.
fn as_nobody_of_note(folder: &Path) -> Command {
    let id = |words: &[&str]| {
        let said = Command::new("id").args(words).output().expect("id runs").stdout;
        String::from_utf8_lossy(&said).trim().parse::<u32>().ok()
    };
    if id(&["-u"]) != Some(0) {
        return Command::new("env");
    }
    let (user, group) = (id(&["-u", "postgres"]), id(&["-g", "postgres"]));
    std::os::unix::fs::chown(folder, user, group).expect("root may give a folder away");
    let mut command = Command::new("runuser");
    command.args(["-u", "postgres", "--"]);
    command
}

/// The folder of the server's programs: on the path, or where the package puts them.
fn programs() -> PathBuf {
    let path = std::env::var_os("PATH").unwrap_or_default();
    let mut usual: Vec<PathBuf> = std::fs::read_dir("/usr/lib/postgresql")
        .into_iter()
        .flatten()
        .flatten()
        .map(|version| version.path().join("bin"))
        .collect();
    usual.sort();
    let folders = std::env::split_paths(&path).chain(usual.into_iter().rev());
    // A link to one of them may lie elsewhere.
    let all = ["initdb", "pg_basebackup", "pg_ctl"];
    let mut found = folders.filter(|folder| all.iter().all(|one| folder.join(one).is_file()));
    found.next().expect("PostgreSQL is here: sudo apt-get install postgresql")
}
