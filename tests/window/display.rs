//! A display without a screen, and a window on it: keys in, pixels out.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use x11rb::connection::Connection;
use x11rb::protocol::xproto::{
    AtomEnum, ClientMessageEvent, ConfigureWindowAux, ConnectionExt, CreateWindowAux, EventMask, ImageFormat,
    InputFocus, PropMode, WindowClass,
};
use x11rb::protocol::xtest::ConnectionExt as _;
use x11rb::rust_connection::RustConnection;
use x11rb::wrapper::ConnectionExt as _;

/// Size of the display and of the window on it, in pixels.
pub const SIZE: (u16, u16) = (1600, 1000);
/// How long anything may take before a test gives up: the machine may be busy.
const PATIENCE: Duration = Duration::from_secs(90);
/// The colour in which faults are shown.
const FAULT: [u8; 3] = [240, 104, 160];

/// X11 event codes of a key pressed, a key released, and the pointer moved.
const KEY_PRESS: u8 = 2;
const KEY_RELEASE: u8 = 3;
const MOTION: u8 = 6;
/// The same of the pointer's buttons.
const BUTTON_PRESS: u8 = 4;
const BUTTON_RELEASE: u8 = 5;

/// The pointer's buttons; the wheel is the fourth and the fifth.
pub const FIRST: u8 = 1;
const WHEEL_UP: u8 = 4;
const WHEEL_DOWN: u8 = 5;
/// Pause between two things done with the pointer, so that each is in a frame of its own.
const BETWEEN: Duration = Duration::from_millis(60);

/// A frame buffer server of its own.
pub struct Display {
    server: Child,
    name: String,
    runtime: tempfile::TempDir,
}

impl Display {
    /// Starts one; says why and gives `None` where there is no server.
    pub fn start() -> Option<Self> {
        let (width, height) = SIZE;
        let mut server = Command::new("Xvfb");
        server
            .args(["-displayfd", "1", "-noreset", "-nolisten", "tcp", "-screen", "0", &format!("{width}x{height}x24")])
            .stdout(Stdio::piped())
            .stderr(Stdio::null());
        let mut server = backporch_test_tools::started(&mut server, Command::spawn)?;
        let mut number = String::new();
        let out = server.stdout.take().expect("its output is piped");
        BufReader::new(out).read_line(&mut number).expect("it prints its number");
        let name = format!(":{}", number.trim());
        Some(Self { server, name, runtime: tempfile::tempdir().expect("a folder") })
    }

    /// A program on this display.
    pub fn command(&self, program: &str) -> Command {
        let mut command = Command::new(program);
        command.env("DISPLAY", &self.name).env_remove("WAYLAND_DISPLAY").env_remove("WAYLAND_SOCKET");
        command.env("XDG_RUNTIME_DIR", self.runtime.path());
        command
    }

    /// Opens the window; says why and gives `None` where there is no driver.
    pub fn open(&self, program: &str, folder: &Path, bench: &str) -> Option<Running<'_>> {
        let mut command = self.command(program);
        command.args(["window", bench, "--fresh"]);
        self.opened(command, folder)
    }

    /// Opens a window that remembers in a folder what it is to remember.
    pub fn open_remembering(&self, program: &str, folder: &Path, bench: &str, settings: &Path) -> Option<Running<'_>> {
        let mut command = self.command(program);
        command.args(["window", bench]).env("XDG_CONFIG_HOME", settings);
        self.opened(command, folder)
    }

    fn opened(&self, mut command: Command, folder: &Path) -> Option<Running<'_>> {
        let (width, height) = SIZE;
        let (connection, _) = x11rb::connect(Some(&self.name)).expect("the server answers");
        let root = connection.setup().roots[0].root;
        // The pixel under the pointer would be outlined.
        let moved = connection.xtest_fake_input(MOTION, 0, 0, root, 0, 0, 0).expect("sent");
        moved.check().expect("the server has the XTEST extension");
        let mut child = command
            .args(["--size", &format!("{width}x{height}"), "--out"])
            .arg(folder)
            .stderr(Stdio::piped())
            .spawn()
            .expect("the program runs");
        let began = Instant::now();
        let window = loop {
            if let Some(status) = child.try_wait().expect("the program can be asked") {
                let said = std::io::read_to_string(child.stderr.take().expect("piped")).unwrap_or_default();
                assert!(said.contains("no driver"), "the window is gone ({status}): {said}");
                backporch_test_tools::missing(format_args!(
                    "a driver to draw with (mesa-vulkan-drivers): {}",
                    said.trim()
                ));
                return None;
            }
            let tree = connection.query_tree(root).expect("sent").reply().expect("answered");
            let shown = tree.children.into_iter().find(|window| {
                let shape = connection.get_geometry(*window).ok().and_then(|asked| asked.reply().ok());
                shape.is_some_and(|shape| (shape.width, shape.height) == SIZE)
            });
            if let Some(window) = shown {
                break window;
            }
            assert!(began.elapsed() < PATIENCE, "no window appears");
            std::thread::sleep(Duration::from_millis(20));
        };
        let running = Running { _display: self, child, connection, root, window };
        running.until("something is painted", || running.capture().is_painted());
        // Without a window manager the keys have to be given to it.
        let now = x11rb::CURRENT_TIME;
        running.connection.set_input_focus(InputFocus::PARENT, window, now).expect("sent").check().expect("focused");
        Some(running)
    }
}

impl Drop for Display {
    fn drop(&mut self) {
        // It may have gone by itself.
        let _ = self.server.kill();
        let _ = self.server.wait();
    }
}

/// A window on the display.
pub struct Running<'a> {
    _display: &'a Display,
    child: Child,
    connection: RustConnection,
    root: u32,
    window: u32,
}

impl Running<'_> {
    fn fake(&self, kind: u8, detail: u8) {
        let sent = self.connection.xtest_fake_input(kind, detail, 0, self.root, 0, 0, 0);
        sent.expect("sent").check().expect("the server has the XTEST extension");
    }

    /// Presses and releases a key.
    pub fn key(&self, name: &str) {
        self.keys(&[name]);
    }

    /// Presses keys in order and releases them in the opposite one.
    pub fn keys(&self, names: &[&str]) {
        let codes: Vec<u8> = names.iter().map(|name| self.code(name)).collect();
        codes.iter().for_each(|code| self.fake(KEY_PRESS, *code));
        codes.iter().rev().for_each(|code| self.fake(KEY_RELEASE, *code));
    }

    /// Moves the pointer to a place of the display.
    pub fn point(&self, (x, y): (i16, i16)) {
        let moved = self.connection.xtest_fake_input(MOTION, 0, 0, self.root, x, y, 0);
        moved.expect("sent").check().expect("the server has the XTEST extension");
    }

    /// Presses and releases the pointer's first button.
    pub fn press_button(&self) {
        self.press(FIRST);
    }

    /// Presses and releases one of the pointer's buttons.
    pub fn press(&self, button: u8) {
        self.fake(BUTTON_PRESS, button);
        std::thread::sleep(BETWEEN);
        self.fake(BUTTON_RELEASE, button);
    }

    /// Goes to a place, waits until the window has seen it, and presses a button there.
    pub fn press_at(&self, place: (i16, i16), button: u8) {
        self.point(place);
        std::thread::sleep(4 * BETWEEN);
        self.press(button);
        // The pointer is still there when the window looks where it was let go.
        std::thread::sleep(4 * BETWEEN);
    }

    /// Turns the wheel by so many notches: away from oneself, or below zero towards oneself.
    pub fn turn_wheel(&self, notches: i32) {
        let button = if notches > 0 { WHEEL_UP } else { WHEEL_DOWN };
        (0..notches.abs()).for_each(|_| self.press(button));
    }

    /// Presses the first button at one place, moves to another in steps and lets go there.
    pub fn drag(&self, from: (i16, i16), to: (i16, i16)) {
        const STEPS: i16 = 5;
        self.point(from);
        std::thread::sleep(4 * BETWEEN);
        self.fake(BUTTON_PRESS, FIRST);
        for step in 1..=STEPS {
            std::thread::sleep(BETWEEN);
            let along = |from: i16, to: i16| from + (to - from) * step / STEPS;
            self.point((along(from.0, to.0), along(from.1, to.1)));
        }
        std::thread::sleep(4 * BETWEEN);
        self.fake(BUTTON_RELEASE, FIRST);
    }

    /// Gives the window another size in pixels, as a window manager would.
    pub fn resize(&self, (width, height): (u16, u16)) {
        let size = ConfigureWindowAux::new().width(u32::from(width)).height(u32::from(height));
        self.connection.configure_window(self.window, &size).expect("sent").check().expect("resized");
    }

    /// Covers the whole display with another program's window.
    pub fn cover(&self) -> u32 {
        let cover = self.connection.generate_id().expect("a number");
        let looks = CreateWindowAux::new().background_pixel(0x80_80_80).override_redirect(1);
        let (width, height) = SIZE;
        let class = WindowClass::INPUT_OUTPUT;
        let made = self.connection.create_window(0, cover, self.root, 0, 0, width, height, 0, class, 0, &looks);
        made.expect("sent").check().expect("made");
        self.connection.map_window(cover).expect("sent").check().expect("shown");
        cover
    }

    /// Takes it away again.
    pub fn uncover(&self, cover: u32) {
        self.connection.destroy_window(cover).expect("sent").check().expect("gone");
    }

    fn atom(&self, name: &str) -> u32 {
        self.connection.intern_atom(false, name.as_bytes()).expect("sent").reply().expect("answered").atom
    }

    /// Takes the window off the display and notes it on it, as a window manager does with one that is minimised.
    pub fn minimise(&self) {
        let (state, hidden) = (self.atom("_NET_WM_STATE"), self.atom("_NET_WM_STATE_HIDDEN"));
        let noted = self.connection.change_property32(PropMode::REPLACE, self.window, state, AtomEnum::ATOM, &[hidden]);
        noted.expect("sent").check().expect("noted");
        self.connection.unmap_window(self.window).expect("sent").check().expect("gone");
    }

    /// Shows it again and gives it the keys.
    pub fn restore(&self) {
        let state = self.atom("_NET_WM_STATE");
        self.connection.delete_property(self.window, state).expect("sent").check().expect("gone");
        self.connection.map_window(self.window).expect("sent").check().expect("shown");
        let now = x11rb::CURRENT_TIME;
        self.connection.set_input_focus(InputFocus::PARENT, self.window, now).expect("sent").check().expect("focused");
    }

    /// Asks the window to close, as its frame's cross does.
    pub fn ask_to_close(&self) {
        let data = [self.atom("WM_DELETE_WINDOW"), x11rb::CURRENT_TIME, 0, 0, 0];
        let message = ClientMessageEvent::new(32, self.window, self.atom("WM_PROTOCOLS"), data);
        let sent = self.connection.send_event(false, self.window, EventMask::NO_EVENT, message);
        sent.expect("sent").check().expect("it reaches the window");
    }

    /// Whether the program has ended.
    pub fn has_ended(&mut self) -> bool {
        self.child.try_wait().expect("the program can be asked").is_some()
    }

    /// Whether it ended without a fault; it has ended.
    pub fn ended_well(&mut self) -> bool {
        self.child.try_wait().expect("the program can be asked").is_some_and(|status| status.success())
    }

    /// Memory that the program holds, in KiB, where the system says it.
    pub fn resident_kib(&self) -> Option<u64> {
        let status = std::fs::read_to_string(format!("/proc/{}/status", self.child.id())).ok()?;
        let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:"))?;
        line.split_whitespace().next()?.parse().ok()
    }

    /// Processor time the program has taken so far, in ticks of the system's clock, where the system says it.
    pub fn processor_ticks(&self) -> Option<u64> {
        let stat = std::fs::read_to_string(format!("/proc/{}/stat", self.child.id())).ok()?;
        // The name may have spaces in it; after its bracket the state is the first field, time used the 12th and 13th.
        let (_, fields) = stat.rsplit_once(')')?;
        let ticks = fields.split_whitespace().skip(11).take(2).map(|field| field.parse::<u64>().ok());
        ticks.sum()
    }

    /// Waits for the program to end.
    pub fn ends(&mut self) {
        let began = Instant::now();
        while !self.has_ended() {
            assert!(began.elapsed() < PATIENCE, "the program does not end");
            std::thread::sleep(Duration::from_millis(30));
        }
    }

    /// The server's code of a key, by the symbol on it.
    fn code(&self, name: &str) -> u8 {
        let symbol = match name {
            "Up" => 0xFF52,
            "Down" => 0xFF54,
            "Tab" => 0xFF09,
            "Escape" => 0xFF1B,
            "F6" => 0xFFC3,
            "F10" => 0xFFC7,
            "Control_L" => 0xFFE3,
            "Left" => 0xFF51,
            "Right" => 0xFF53,
            "Home" => 0xFF50,
            "F11" => 0xFFC8,
            "space" => 0x20,
            "Return" => 0xFF0D,
            "Shift_L" => 0xFFE1,
            letter => u32::from(letter.as_bytes()[0]),
        };
        let setup = self.connection.setup();
        let (first, count) = (setup.min_keycode, setup.max_keycode - setup.min_keycode + 1);
        let map = self.connection.get_keyboard_mapping(first, count).expect("sent").reply().expect("answered");
        let rows = map.keysyms.chunks(usize::from(map.keysyms_per_keycode));
        let at = rows.into_iter().position(|symbols| symbols.first() == Some(&symbol)).expect("the keyboard has it");
        first + at as u8
    }

    /// What the display shows.
    pub fn capture(&self) -> Picture {
        let (width, height) = SIZE;
        let asked = self.connection.get_image(ImageFormat::Z_PIXMAP, self.root, 0, 0, width, height, !0);
        let data = asked.expect("sent").reply().expect("answered").data;
        let rgb = data.chunks_exact(4).map(|pixel| [pixel[2], pixel[1], pixel[0]]).collect();
        Picture { width: width.into(), rgb }
    }

    /// Waits for the display to show a picture, pixel for pixel.
    pub fn shows(&self, wanted: &Picture, what: &str) {
        self.until(what, || self.capture().holds(wanted));
    }

    /// Whether a fault is shown at the left of the bottom line.
    pub fn shows_a_fault(&self) -> bool {
        let picture = self.capture();
        let rows = picture.rgb.chunks_exact(picture.width);
        let bottom = rows.skip(usize::from(SIZE.1) * 24 / 25);
        let left = bottom.flat_map(|row| &row[..row.len() / 2]);
        left.filter(|pixel| **pixel == FAULT).count() > 20
    }

    /// Waits for a picture the program writes.
    pub fn file(&self, folder: &Path, name: &str) -> Picture {
        let path = folder.join(name);
        self.until(name, || path.exists());
        Picture::read(&path)
    }

    /// Waits until something holds.
    pub fn until(&self, what: &str, holds: impl Fn() -> bool) {
        let began = Instant::now();
        while !holds() {
            if began.elapsed() > PATIENCE {
                self.capture().keep("window-test-failed.png");
                panic!("{what}: not within {PATIENCE:?}; the display is kept as window-test-failed.png");
            }
            std::thread::sleep(Duration::from_millis(30));
        }
    }
}

impl Drop for Running<'_> {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Pixels, row by row.
#[derive(Debug, PartialEq, Eq)]
pub struct Picture {
    width: usize,
    rgb: Vec<[u8; 3]>,
}

impl Picture {
    /// Reads a picture file.
    pub fn read(path: &Path) -> Self {
        let image = image::open(path).expect("a picture").to_rgb8();
        Self { width: image.width() as usize, rgb: image.pixels().map(|pixel| pixel.0).collect() }
    }

    fn keep(&self, name: &str) {
        let bytes = self.rgb.as_flattened().to_vec();
        let height = self.rgb.len() / self.width;
        let image = image::RgbImage::from_raw(self.width as u32, height as u32, bytes).expect("as many as it says");
        image.save(std::env::temp_dir().join(name)).expect("it can be written");
    }

    /// A part of it.
    pub fn part(&self, (left, top): (i16, i16), (width, height): (usize, usize)) -> Self {
        let (left, top) = (left as usize, top as usize);
        let rows = self.rgb.chunks_exact(self.width).skip(top).take(height);
        Self { width, rgb: rows.flat_map(|row| row[left..left + width].to_vec()).collect() }
    }

    pub fn is_painted(&self) -> bool {
        self.rgb.iter().any(|pixel| *pixel != self.rgb[0])
    }

    /// Whether `part` stands somewhere in this picture, pixel for pixel.
    pub fn holds(&self, part: &Self) -> bool {
        let (rows, part_rows) = (self.rgb.len() / self.width, part.rgb.len() / part.width);
        if part_rows > rows || part.width > self.width {
            return false;
        }
        let row = |picture: &Self, y: usize, x: usize, width: usize| {
            let from = y * picture.width + x;
            picture.rgb[from..from + width].to_vec()
        };
        // The middle row is the least likely to be all of one colour.
        let middle = part_rows / 2;
        let wanted = row(part, middle, 0, part.width);
        let starts = (middle..rows - part_rows + middle + 1)
            .flat_map(|y| (0..=self.width - part.width).map(move |x| (x, y)))
            .filter(|(x, y)| self.rgb[y * self.width + x..][..part.width] == wanted[..]);
        starts.into_iter().any(|(x, y)| {
            (0..part_rows).all(|at| row(self, y - middle + at, x, part.width) == row(part, at, 0, part.width))
        })
    }
}
